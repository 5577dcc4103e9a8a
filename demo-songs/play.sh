#!/bin/sh
# play.sh [TUNE]: installs what is missing, builds, and plays a demo performance through the live engine: prints what
# it hears and plays, writes a MIDI file, and plays aloud where there is a sound output.  TUNE is the name of a file
# here without its ending; without it the first tune is played.
set -u
cd "$(dirname "$0")/.." || exit 1
build=${UNDERSONG_BUILD:-build}
tune=${1:-breakwater-lamp}
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
echo "A learner plays '$tune'; undersong listens and plays the left hand."
echo "Start with the sound turned down: loud sound harms hearing."
echo
if "$build/src/app/undersong" ports --has-output; then
    "$build/src/app/undersong" play --from "$performance" --to synth --to "$out" || exit 1
else
    echo "(No sound output here: playing silently, without waiting.)"
    "$build/src/app/undersong" play --from "$performance" --to "$out" --virtual-time || exit 1
fi
echo
echo "Written: $out (melody on channel 1, left hand on channel 2)"
