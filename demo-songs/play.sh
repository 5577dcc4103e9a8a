#!/bin/sh
# play.sh [TUNE [OPTION...]]: installs what is missing, builds, and plays a demo performance through the live engine:
# prints what it hears and plays, writes a MIDI file, and plays aloud where there is a sound output.  TUNE is the name
# of a file here without its ending; the options go to `undersong play`.
set -u
cd "$(dirname "$0")/.." || exit 1
build=${UNDERSONG_BUILD:-build}
tune=${1:-net-menders}
[ $# -eq 0 ] || shift
performance=demo-songs/$tune.mid
[ -f "$performance" ] || { echo "play.sh: $performance: not there; choose one of:" demo-songs/*.mid >&2; exit 2; }

sh tests/install.sh demo-songs/packages.txt || exit 1
if [ ! -f "$build/build.ninja" ]; then
    meson setup "$build" >"$build.log" 2>&1 || { cat "$build.log" >&2; exit 1; }
    rm -f "$build.log"
fi
ninja -C "$build" >"$build.log" 2>&1 || { cat "$build.log" >&2; exit 1; }
rm -f "$build.log"

out=$build/$tune-with-left-hand.mid
echo "A learner plays '$tune', with the wavering and the slips of a learner; undersong listens and plays the left hand."
if [ $# -eq 0 ]; then
    echo "It is told neither key nor metre nor tune: it finds them while the notes come."
else
    echo "It is told: $*"
fi
echo "Start with the sound turned down: loud sound harms hearing."
echo
if "$build/src/app/undersong" ports --has-output; then
    "$build/src/app/undersong" play --from "$performance" --to synth --to "$out" "$@" || exit 1
else
    echo "(No sound output here: playing silently, without waiting.)"
    "$build/src/app/undersong" play --from "$performance" --to "$out" --virtual-time "$@" || exit 1
fi
echo
echo "Written: $out (melody on channel 1, left hand on channel 2)"
echo "Next: $build/src/app/undersong play --from keys (the computer's keys), or another tune:" \
    "sh demo-songs/play.sh water-stairs --texture root-run"
