#!/bin/sh
# installed.sh MESON BUILD PREFIX PROGRAM: what `meson install` puts where: the program, a manual page and a completion for
# each command, the patches, the desktop entry and its icon, each of which its own reader takes without a complaint.
set -u
meson=$1 build=$2 prefix=$3 program=$4
bad=0
tell() { if [ "$1" = 0 ]; then echo "ok - $2"; else echo "not ok - $2"; bad=1; fi; }
work=$(mktemp -d) || exit 1
trap 'rm -rf "$work"' EXIT
DESTDIR=$work "$meson" install -C "$build" --no-rebuild >"$work/log" 2>&1 || tail -5 "$work/log"
top=$work$prefix
cmp -s "$program" "$top/bin/undersong" || "$top/bin/undersong" --version >/dev/null
tell $? "the program"
for page in undersong undersong-play undersong-harmonize undersong-sheet undersong-review undersong-ports undersong-stand; do
    [ -s "$top/share/man/man1/$page.1" ]
    tell $? "the page $page"
    command -v man >/dev/null || continue
    [ -z "$(MANWIDTH=80 man --warnings -l "$top/share/man/man1/$page.1" 2>&1 >"$work/page")" ] && grep -q EXIT "$work/page"
    tell $? "... which man shows without a warning"
done
bash -n "$top/share/bash-completion/completions/undersong"; tell $? "completion for bash"
[ -s "$top/share/zsh/site-functions/_undersong" ]; tell $? "completion for zsh"
[ "$(find "$top/share/undersong/patches" -name '*.ini' 2>/dev/null | wc -l)" -ge 5 ]
tell $? "the patches"
entry=$top/share/applications/undersong.desktop
[ -s "$entry" ] && [ -s "$top/share/icons/hicolor/scalable/apps/$(sed -n 's/^Icon=//p' "$entry").svg" ]
tell $? "the desktop entry and its icon"
if command -v desktop-file-validate >/dev/null; then
    complaint=$(desktop-file-validate "$entry" 2>&1)
    [ -z "$complaint" ]; tell $? "... which desktop-file-validate takes${complaint:+: $complaint}"
fi
if command -v xmllint >/dev/null; then
    xmllint --noout "$top/share/icons/hicolor/scalable/apps/undersong.svg"; tell $? "... and the icon is well-formed"
fi
exit $bad
