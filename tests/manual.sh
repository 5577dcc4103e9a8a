#!/bin/sh
# manual.sh PROGRAM: manual pages that man reads without a complaint, and name every option; completions that complete.
set -u
program=$1
bad=0
for command in play harmonize sheet review ports stand; do
    page=$("$program" --manual $command) || bad=1
    options=$("$program" $command --help | sed -n 's/^  --\([a-z-]*\).*/\1/p')
    [ -n "$options" ] || { echo "$command: no options in its help"; bad=1; }
    for option in $options; do
        marked=$(printf '%s' "--$option" | sed 's/-/\\-/g')
        printf '%s\n' "$page" | grep -qF "\\fB$marked\\fR" || { echo "$command: --$option is not in the manual"; bad=1; }
    done
    count=0
    while IFS= read -r line; do # each example is a line whose every word is known
        count=$((count + 1))
        (eval "set -- $line"; shift; "$program" "$@" --help) >/dev/null || { echo "$command: example: $line"; bad=1; }
    done <<LINES
$(printf '%s\n' "$page" | sed -n 's/^\\fB\(undersong .*\)\\fR$/\1/p' | sed 's/\\-/-/g')
LINES
    [ $count -ge 2 ] || { echo "$command: no examples"; bad=1; }
    if command -v groff >/dev/null; then
        complaints=$(printf '%s\n' "$page" | groff -man -Tutf8 -ww 2>&1 >/dev/null)
        [ -z "$complaints" ] || { echo "$command: $complaints"; bad=1; }
    fi
done
"$program" --manual | grep -q 'undersong.-play' || { echo "the main page does not name play"; bad=1; }
"$program" --manual | grep -qF '\fB\-\-version\fR' || { echo "the main page does not name --version"; bad=1; }
"$program" --help | grep -q 'undersong --version' || { echo "the help does not name --version"; bad=1; }
answer=$(bash -c '
    eval "$1"
    COMP_WORDS=(undersong play --texture ro); COMP_CWORD=3; _undersong; echo "${COMPREPLY[*]}"
    COMP_WORDS=(undersong har); COMP_CWORD=1; _undersong; echo "${COMPREPLY[*]}"
    COMP_WORDS=(undersong play --vir); COMP_CWORD=2; _undersong; echo "${COMPREPLY[*]}"
' bash "$("$program" --completion bash)" | tr '\n' '/')
[ "$answer" = "root-run roots/harmonize/--virtual-time/" ] || { echo "bash completion: $answer"; bad=1; }
if command -v zsh >/dev/null; then
    "$program" --completion zsh | zsh -n || { echo "zsh does not read the completion"; bad=1; }
fi
"$program" --completion fish 2>/dev/null && { echo "fish is not known"; bad=1; }
exit $bad
