#!/bin/sh
# sanitize.sh address|thread|valgrind BUILD: builds with clang's sanitizers, apart, and runs
#   address   every check program under the address and undefined-behaviour sanitizers, leaks too; BUILD may be that of
#             the fuzz targets (fuzz/run.sh), which have the same ones
#   thread    what threads share, under the thread sanitizer: queue, snapshot, live, recorder, synth, patches, audio clock
#   valgrind  a soak of 2,000 notes and the program on bytes, under memcheck; BUILD is a plain build
# The last line counts; the exit status is 1 where anything is found, 77 where a tool is missing.
set -u
kind=${1:?usage: sanitize.sh address|thread|valgrind BUILD}
build=${2:?usage: sanitize.sh address|thread|valgrind BUILD}
root=$(cd "$(dirname "$0")/.." && pwd)
export CK_FORK=no CK_VERBOSITY=silent CK_TAP_LOG_FILE_NAME=-
export CK_DEFAULT_TIMEOUT=0
need() { command -v "$1" >/dev/null || { echo "skipped: $1 is not installed"; exit 77; }; }
good=0 bad=0 seconds=300
logs=$build/sanitized-$kind
mkdir -p "$logs" && rm -f "$logs"/*.status

tell() { # status, name
    if [ "$1" = 0 ]; then good=$((good + 1)); else bad=$((bad + 1)); echo "not ok - $2"; fi
}

set_up() { # options
    need clang
    if [ ! -f "$build/build.ninja" ]; then
        CC=clang meson setup "$build" "$root" "$1" -Db_lundef=false -Dwerror=true >"$logs/build.log" 2>&1 ||
            { cat "$logs/build.log"; exit 1; }
    fi
}

make() { # targets
    ninja -j2 -C "$build" "$@" >"$logs/build.log" 2>&1 || { grep -E 'error|FAILED' "$logs/build.log" | head; exit 1; }
}

start() { # name, program, arguments: leaves what it says and how it ended
    name=$1; shift
    timeout "$seconds" "$@" >"$logs/$name.log" 2>&1 && ! grep -q '^not ok' "$logs/$name.log"
    echo $? >"$logs/$name.status"
}

told() { # name
    status=$(cat "$logs/$1.status")
    tell "$status" "$1"
    [ "$status" = 0 ] || grep -E '^not ok|ERROR|WARNING|SUMMARY|runtime error|^ +#[0-6] ' "$logs/$1.log" | head -20
}

run() { # program, arguments
    start "$(basename "$1")" "$@"
    told "$(basename "$1")"
}

run_all() { # programs: two lines of them side by side, each takes every other one
    for line in 0 1; do
        at=0
        for program in "$@"; do
            [ $((at % 2)) = $line ] && start "$(basename "$program")" "$build/$program"
            at=$((at + 1))
        done &
    done
    wait
    for program in "$@"; do told "$(basename "$program")"; done
}

case $kind in
address)
    export ASAN_OPTIONS=detect_leaks=1:strict_string_checks=1:detect_stack_use_after_return=1
    export UBSAN_OPTIONS=print_stacktrace=1:halt_on_error=1
    set_up -Dfuzz=true
    echo "leak:libfontconfig" >"$build/leaks" # kept by the library for the process
    export LSAN_OPTIONS=print_suppressions=0:suppressions="$build/leaks"
    names=$(cd "$root/tests" && for f in check_*.c; do echo "tests/${f%.c}"; done)
    # shellcheck disable=SC2086
    make $names && run_all $names
    ;;
thread)
    set_up -Db_sanitize=thread
    # The synthesizer's library brings OpenMP, whose own locks the sanitizer does not see.
    printf 'race:libgomp\ncalled_from_lib:libgomp\n' >"$build/races"
    export TSAN_OPTIONS=halt_on_error=0:second_deadlock_stack=1:suppressions="$build/races":ignore_noninstrumented_modules=1
    names="tests/check_queue tests/check_live tests/check_recorder tests/check_synth tests/check_frame_clock tests/check_input"
    # shellcheck disable=SC2086
    make $names src/app/undersong src/app/undersong-sound.so
    # shellcheck disable=SC2086
    run_all $names
    # shellcheck disable=SC2016
    run sh -c 'for note in 074 100 103 100 101 076 073 074; do
            printf "\220\\$note\132"; sleep 0.2; printf "\200\\$note\100"
        done | "$1" play --from - --to - --audio dummy --to synth --key C --keep "$2" >/dev/null' \
        undersong "$build/src/app/undersong" "$logs/kept.mid"
    ;;
valgrind)
    need valgrind
    [ -f "$build/build.ninja" ] || { echo "$build: no build is there; meson setup makes one" >&2; exit 2; }
    make tests/soak src/app/undersong
    check="valgrind -q --error-exitcode=9 --leak-check=full --errors-for-leak-kinds=definite"
    run $check "$build/tests/soak" 2000
    printf '\220\074\132\200\074\100\220\100\132\200\100\100' |
        $check "$build/src/app/undersong" play --from - --to - --key C --keep "$logs/kept.mid" >/dev/null 2>"$logs/play.log"
    status=$?
    tell "$status" "play on bytes"
    [ "$status" = 0 ] || head -20 "$logs/play.log"
    ;;
*) echo "sanitize.sh: $kind: address, thread or valgrind" >&2; exit 2 ;;
esac
echo "$kind: $good clean, $bad not"
[ "$bad" = 0 ] && [ "$good" -gt 0 ]
