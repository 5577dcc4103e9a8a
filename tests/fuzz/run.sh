#!/bin/sh
# run.sh SECONDS [TARGET...]: builds the fuzz targets with clang, address and undefined-behaviour sanitizers, and runs
# each for so many seconds.  What breaks one is left in the build folder (FUZZ_BUILD, by default build-fuzz).
# FUZZ_SEED fixes the order in which inputs are tried, so that a test run does not depend on chance; 0, the default, is
# another order each time, for looking further.
set -u
cd "$(dirname "$0")/../.." || exit 1
seconds=${1:?usage: run.sh SECONDS [TARGET...]}
shift
command -v clang >/dev/null || { echo "skipped: clang is not installed"; exit 77; }
build=${FUZZ_BUILD:-build-fuzz}
if [ ! -f "$build/build.ninja" ]; then
    CC=clang meson setup "$build" -Dfuzz=true -Db_lundef=false -Dwerror=true >"$build.log" 2>&1 || { cat "$build.log" >&2; exit 1; }
fi
[ $# -gt 0 ] || set -- abc companion midi_bytes musicxml options patch review sheet smf
status=0
for target in "$@"; do
    ninja -j2 -C "$build" "tests/fuzz/fuzz_$target" >"$build.log" 2>&1 || { cat "$build.log" >&2; exit 1; }
    mkdir -p "$build/corpus/$target"
    dictionary=
    [ -f "tests/fuzz/$target.dict" ] && dictionary="-dict=tests/fuzz/$target.dict"
    # shellcheck disable=SC2086
    if "$build/tests/fuzz/fuzz_$target" -max_total_time="$seconds" -seed="${FUZZ_SEED:-0}" -max_len=4096 -timeout=10 -rss_limit_mb=1024 -reload=0 \
        -artifact_prefix="$build/$target-" -print_final_stats=1 $dictionary \
        "$build/corpus/$target" "tests/fuzz/seeds/$target" >"$build/$target.log" 2>&1; then
        echo "ok - $target: $(sed -n 's/^stat::number_of_executed_units: *//p' "$build/$target.log") inputs"
    else
        echo "not ok - $target"
        grep -E 'ERROR|SUMMARY|does not hold|Test unit written|^#0|runtime error' "$build/$target.log" | head -20
        status=1
    fi
done
exit $status
