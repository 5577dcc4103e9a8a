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
[ $# -gt 0 ] || set -- abc companion midi_bytes musicxml options patch review sheet smf tables
status=0

# One target for its time; what it found goes to TARGET.told.
try_target() {
    mkdir -p "$build/corpus/$1"
    dictionary=
    [ -f "tests/fuzz/$1.dict" ] && dictionary="-dict=tests/fuzz/$1.dict"
    # shellcheck disable=SC2086
    if "$build/tests/fuzz/fuzz_$1" -max_total_time="$seconds" -seed="${FUZZ_SEED:-0}" -max_len=4096 -timeout=10 -rss_limit_mb=1024 -reload=0 \
        -artifact_prefix="$build/$1-" -print_final_stats=1 $dictionary \
        "$build/corpus/$1" "tests/fuzz/seeds/$1" >"$build/$1.log" 2>&1; then
        echo "ok - $1: $(sed -n 's/^stat::number_of_executed_units: *//p' "$build/$1.log") inputs"
    else
        echo "not ok - $1"
        grep -E 'ERROR|SUMMARY|does not hold|Test unit written|^#0|runtime error' "$build/$1.log" | head -20
    fi >"$build/$1.told"
}

for target in "$@"; do
    ninja -j2 -C "$build" "tests/fuzz/fuzz_$target" >"$build.log" 2>&1 || { cat "$build.log" >&2; exit 1; }
done
# Two at a time: each has a processor to itself.
while [ $# -gt 0 ]; do
    pair=$1
    shift
    [ $# -gt 0 ] && { pair="$pair $1"; shift; }
    for target in $pair; do try_target "$target" & done
    wait
    for target in $pair; do
        cat "$build/$target.told"
        grep -q '^ok' "$build/$target.told" || status=1
    done
done
exit $status
