#!/bin/sh
# builds.sh WORK: the whole tree with gcc and with clang, warnings as errors, with every optional part, without any, and
# without each; the sources that need no 64-bit library also for 32 bits, where the core plays a short soak.
set -u
work=${1:?usage: builds.sh WORK}
root=$(cd "$(dirname "$0")/.." && pwd)
bad=0
tell() { if [ "$1" = 0 ]; then echo "ok - $2"; else echo "not ok - $2"; bad=1; [ -f "$3" ] && grep -E 'error|FAILED' "$3" | head -5; fi; }
mkdir -p "$work"
build() { # name, compiler, options
    name=$1 CC=$2; export CC; shift 2
    command -v "$CC" >/dev/null || { echo "ok - $name # SKIP $CC is not installed"; return; }
    [ -f "$work/$name/build.ninja" ] || meson setup "$work/$name" "$root" -Dwerror=true "$@" >"$work/$name.log" 2>&1
    ninja -j2 -C "$work/$name" >"$work/$name.log" 2>&1
    tell $? "$name" "$work/$name.log"
}
build gcc gcc
build clang clang
build plain gcc -Dauto_features=disabled
meson test -C "$work/plain" --no-rebuild --no-suite slow --no-suite vm --no-suite rig >"$work/plain-tests.log" 2>&1
tell $? "plain: its tests pass" "$work/plain-tests.log"
ldd "$work/plain/src/app/undersong" | grep -vE 'linux-vdso|libm\.|libc\.|ld-linux' >"$work/plain-libraries"
test ! -s "$work/plain-libraries"
tell $? "plain: needs the C library and libm alone"
for part in musicxml patches pictures ports rtkit sound stand terminal; do # each alone
    [ -f "$work/no-$part/build.ninja" ] || meson setup "$work/no-$part" "$root" -Dwerror=true "-D$part=disabled" >"$work/no-$part.log" 2>&1
    ninja -j2 -C "$work/no-$part" src/app/undersong >"$work/no-$part.log" 2>&1 &&
        meson test -C "$work/no-$part" --no-rebuild parts >>"$work/no-$part.log" 2>&1
    tell $? "without $part" "$work/no-$part.log"
done
echo 'int main(void) { return 0; }' >"$work/empty.c"
if gcc -m32 -o "$work/empty" "$work/empty.c" 2>/dev/null && "$work/empty"; then
    python3 "$root/tests/builds_32.py" "$work/gcc" "$work/32" >"$work/32.log" 2>&1
    tell $? "32 bits: $(tail -1 "$work/32.log")" "$work/32.log"
else
    echo "ok - 32 bits # SKIP gcc -m32 does not link or run here; install gcc-multilib"
fi
exit $bad
