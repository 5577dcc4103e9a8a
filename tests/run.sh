#!/bin/sh
# run.sh [--all] [--release] [--vm]: installs what is missing, builds with warnings as errors, runs every test.
# The suites slow (fuzzing, long soaks) and vm take longer; rig (private JACK and PulseAudio servers) is always run.
#   --all  every suite but release, the virtual machine too
#   --release  also the Debian package on a clean root, both compilers, and 32 bits
#   --vm   also the virtual machine with a real ALSA sequencer
# The last line counts what passed and failed.
set -u
cd "$(dirname "$0")/.." || exit 1
build=${UNDERSONG_BUILD:-build-tests}
all='' vm='' release=''
for word in "$@"; do
    case $word in
    --all) all=all ;;
    --vm) vm=vm ;;
    --release) release=release ;;
    *) echo "run.sh: $word: not known; use --all, --release or --vm" >&2; exit 2 ;;
    esac
done
if [ "$all" ]; then main="--no-suite release" apart=''; else main="--no-suite slow" apart="rig $vm"; fi
sh tests/install.sh tests/packages.txt || exit 1
if [ ! -f "$build/build.ninja" ]; then
    meson setup "$build" -Dwerror=true >"$build.log" 2>&1 || { cat "$build.log" >&2; exit 1; }
    rm -f "$build.log"
fi
ninja -C "$build" || exit 1
# Many tests wait more than they compute: one more at a time than there are processors.
at_once=$(($(nproc) + 1))
# shellcheck disable=SC2086
meson test -C "$build" --print-errorlogs --num-processes "$at_once" $main
status=$?
logs=$build/meson-logs/testlog.json
for suite in $apart $release; do
    meson test -C "$build" --print-errorlogs --suite "$suite" --logbase "log-$suite" || status=1
    logs="$logs $build/meson-logs/log-$suite.json"
done
# shellcheck disable=SC2086
python3 tests/count.py $logs || status=1
exit $status
