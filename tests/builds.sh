#!/bin/sh
# builds.sh WORK: the whole tree with gcc and with clang, warnings as errors, with every optional part, without any, and
# without each, where the quick tests pass or say what they lack; the sources that need no 64-bit library also for 32
# bits, where the core plays a short soak.
set -u
work=${1:?usage: builds.sh WORK}
root=$(cd "$(dirname "$0")/.." && pwd)
bad=0
tell() { if [ "$1" = 0 ]; then echo "ok - $2"; else echo "not ok - $2"; bad=1; [ -f "${3:-}" ] && grep -E 'error|ERROR|FAIL|TIMEOUT' "$3" | head -5; fi; }
mkdir -p "$work"
build() { # name, compiler, options
    name=$1 CC=$2; export CC; shift 2
    command -v "$CC" >/dev/null || { echo "ok - $name # SKIP $CC is not installed"; return; }
    { [ -f "$work/$name/build.ninja" ] || meson setup "$work/$name" "$root" -Dwerror=true "$@"; } >"$work/$name.log" 2>&1 &&
        ninja -j2 -C "$work/$name" >>"$work/$name.log" 2>&1
    tell $? "$name" "$work/$name.log"
}
tests() { # build, what is run: good where nothing fails, and something has passed
    log=$work/$1-tests.log
    # shellcheck disable=SC2086
    meson test -C "$work/$1" --no-rebuild --print-errorlogs $2 >"$log" 2>&1 && grep -q '^Ok: *[1-9]' "$log"
}
quick() { # build: its quick tests but those that every other build has run as well: the real window, live playing, sources
    meson test -C "$work/$1" --no-rebuild --no-suite slow --list 2>/dev/null | sed -n 's/^undersong.* \/ //p' |
        grep -vE '^(stand-.*|play-live|format|structure)$'
}
skipped() { # how many of the tests that ran last
    count=$(sed -n 's/^Skipped: *\([0-9]*\).*/\1/p' "$log")
    echo "${count:-0}"
}
build gcc gcc
build clang clang
build plain gcc -Dauto_features=disabled
tests plain "--no-suite slow"
tell $? "plain: its tests pass, $(skipped) skipped" "$log"
ldd "$work/plain/src/app/undersong" >"$work/plain-libraries" &&
    ! grep -vE 'linux-vdso|libm\.|libc\.|ld-linux' "$work/plain-libraries"
tell $? "plain: needs the C library and libm alone"
for part in musicxml patches pictures ports rtkit sound stand terminal; do # each alone
    build "no-$part" gcc "-D$part=disabled"
    names=$(quick "no-$part") # without a name every test would run
    tests "no-$part" "${names:-none}"
    tell $? "without $part: its tests pass, $(skipped) skipped" "$log"
done
# A kernel of 64 bits alone cannot run it itself.
echo 'int main(void) { return 0; }' >"$work/empty.c"
runner=none
gcc -m32 -o "$work/empty" "$work/empty.c" 2>/dev/null && for with in '' qemu-i386; do
    $with "$work/empty" 2>/dev/null && { runner=$with; break; }
done
if [ "$runner" != none ]; then
    # shellcheck disable=SC2086
    python3 "$root/tests/builds_32.py" "$work/gcc" "$work/32" $runner >"$work/32.log" 2>&1
    tell $? "32 bits: $(tail -1 "$work/32.log")" "$work/32.log"
else
    echo "ok - 32 bits # SKIP gcc -m32 does not link or run here; install gcc-multilib and qemu-user"
fi
exit $bad
