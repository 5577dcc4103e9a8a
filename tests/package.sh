#!/bin/sh
# package.sh WORK: builds the Debian package from the recipe in .debian in a folder of its own, looks into it, and
# installs it on a clean Debian root made with debootstrap, where it is run.  77 where the tools or the rights are missing.
set -u
work=${1:?usage: package.sh WORK}
root=$(cd "$(dirname "$0")/.." && pwd)
skip() { echo "skipped: $1"; exit 77; }
fail() { echo "not ok - $1"; [ -f "${2:-}" ] && tail -20 "$2"; exit 1; }
for tool in dpkg-buildpackage dh debootstrap; do command -v "$tool" >/dev/null || skip "$tool is not installed"; done
rm -rf "$work"
mkdir -p "$work/undersong" || fail "cannot make $work"
(cd "$root" && tar cf - README.md DEVELOPERS.md LICENSE meson.build meson_options.txt src include tests patches demo-songs) |
    tar xf - -C "$work/undersong"
cp -r "$root/.debian" "$work/undersong/debian"
(cd "$work/undersong" && DEB_BUILD_OPTIONS="nocheck parallel=2 noautodbgsym" dpkg-buildpackage -b -us -uc -d) >"$work/build.log" 2>&1 ||
    fail "dpkg-buildpackage" "$work/build.log"
package=$(ls "$work"/undersong_*.deb) || fail "no package"
dpkg-deb -c "$package" >"$work/contents"
for file in usr/bin/undersong usr/share/undersong/patches/front-room-piano.ini usr/share/man/man1/undersong-play.1.gz \
    usr/share/bash-completion/completions/undersong usr/share/applications/undersong.desktop 'usr/lib/.*/undersong/undersong-sound.so' \
    'usr/lib/.*/undersong/undersong-window.so'; do
    grep -q " ./$file" "$work/contents" || fail "the package has no $file"
done
echo "ok - $(basename "$package"): $(($(wc -c <"$package") / 1024)) KiB"
[ "$(id -u)" = 0 ] || skip "only root can make a clean root for the installation; the package itself is built"
mirror=$(sed -n 's/^URIs: *//p; s/^deb \(\[[^]]*\] \)*\(http[^ ]*\) .*/\2/p' /etc/apt/sources.list /etc/apt/sources.list.d/* 2>/dev/null | head -1)
suite=$(. /etc/os-release && echo "$VERSION_CODENAME")
debootstrap --variant=minbase "$suite" "$work/clean" ${mirror:+"$mirror"} >"$work/debootstrap.log" 2>&1 ||
    { tail -3 "$work/debootstrap.log"; skip "debootstrap cannot make a clean root here; the package itself is built"; }
cp "$package" "$work/clean/tmp/undersong.deb"
for file in /etc/apt/sources.list /etc/apt/sources.list.d /etc/apt/apt.conf.d /etc/resolv.conf; do
    [ -e "$file" ] && cp -rL "$file" "$(dirname "$work/clean$file")/" 2>/dev/null
done
chroot "$work/clean" sh -c 'apt-get update -q && DEBIAN_FRONTEND=noninteractive apt-get install -q -y --no-install-recommends \
    /tmp/undersong.deb' >"$work/install.log" 2>&1 || fail "does not install on a clean root" "$work/install.log"
printf '\220\074\132\200\074\100' | chroot "$work/clean" undersong play --from - --to - --key C --quiet --keep no >"$work/out" 2>"$work/said" &&
    [ "$(wc -c <"$work/out")" -gt 9 ] || fail "does not play on a clean root" "$work/said"
printf '\220\074\132\200\074\100' | chroot "$work/clean" undersong play --from - --to /tmp/x.wav --quiet --keep no 2>"$work/said" &&
    [ "$(tail -c +1000 "$work/clean/tmp/x.wav" | tr -d '\000' | wc -c)" -gt 1000 ] || fail "does not sound on a clean root" "$work/said"
chroot "$work/clean" undersong play --virtual-time --from - 2>&1 | grep -q 'undersong:' || fail "does not answer on a clean root"
chroot "$work/clean" sh -c 'apt-get remove -q -y undersong && ! test -e /usr/bin/undersong && ! test -e /usr/share/undersong' \
    >"$work/remove.log" 2>&1 || fail "is not removed without remains" "$work/remove.log"
rm -rf "$work/clean"
echo "ok - installs, plays and is removed on a clean root"
