#!/bin/sh
# run.sh [--all] [--vm]: installs what is missing, builds with warnings as errors, runs every test.
#   --all  also the slow suites: fuzzing, long soaks, real sound servers, the virtual machine
#   --vm   also the virtual machine with a real ALSA sequencer
# The last line counts what passed and failed.
set -u
cd "$(dirname "$0")/.." || exit 1
build=${UNDERSONG_BUILD:-build-tests}
suites="--no-suite slow --no-suite vm"
for word in "$@"; do
    case $word in
    --all) suites= ;;
    --vm) suites="--no-suite slow" ;;
    *) echo "run.sh: $word: not known; use --all or --vm" >&2; exit 2 ;;
    esac
done
sh tests/install.sh tests/packages.txt || exit 1
if [ ! -f "$build/build.ninja" ]; then
    meson setup "$build" -Dwerror=true >"$build.log" 2>&1 || { cat "$build.log" >&2; exit 1; }
    rm -f "$build.log"
fi
ninja -C "$build" || exit 1
# shellcheck disable=SC2086
meson test -C "$build" --print-errorlogs $suites
status=$?
python3 tests/count.py "$build/meson-logs/testlog.json" || status=1
exit $status
