# Shared by the rigs: a folder of its own, a patch whose left hand is silent so that a pitch tracker hears one voice, and
# the program on a private sound server, played through a pipe: no note comes before somebody listens.
program=$1
here=$(cd "$(dirname "$0")" && pwd)
work=$(mktemp -d) || exit 1
server='' player='' recorder='' failed=0
clean() { # however it ends, nothing goes on
    # shellcheck disable=SC2086
    kill $server $player $recorder 2>/dev/null
    rm -rf "$work"
}
trap clean EXIT
trap 'exit 1' HUP INT PIPE TERM
XDG_CONFIG_HOME=$work XDG_DATA_HOME=$work
export XDG_CONFIG_HOME XDG_DATA_HOME
cat >"$work/one-voice.ini" <<'PATCH'
[patch]
name = One voice for a pitch tracker
[melody]
program = 74
level = 120
reverb = 0
[left-hand]
program = 74
level = 0
PATCH
skip() { echo "1..0 # SKIP $1"; exit 77; }
need() { for tool in "$@"; do command -v "$tool" >/dev/null || skip "$tool is not installed"; done; }
tell() { # status, words
    if [ "$1" = 0 ]; then echo "ok - $2"; else echo "not ok - $2"; failed=1; fi
}
wait_for() { # tries of 20 ms, command
    tries=$1; shift
    while [ "$tries" -gt 0 ]; do "$@" >/dev/null 2>&1 && return 0; sleep 0.02; tries=$((tries - 1)); done
    return 1
}
mkfifo "$work/keys"
begin() { # options of play; descriptor 3 is its keyboard from then on
    : >"$work/pressed"
    "$program" play --from - --patch "$work/one-voice.ini" --key C --metre 4/4 --quiet --keep "$work/kept.mid" "$@" <"$work/keys" \
        2>>"$work/said" & player=$!
    exec 3>"$work/keys"
}
press() { # pitches
    for pitch in "$@"; do
        echo "$pitch" >>"$work/pressed"
        byte=$(printf '\\%03o' "$pitch")
        printf "\\220$byte\\144" >&3; sleep 0.8; printf "\\200$byte\\100" >&3; sleep 0.2
    done
}
all_kept() { # whatever became of the sound
    /usr/bin/python3 "$here/kept.py" "$work/kept.mid" "$work/pressed"; tell $? "all that was played is kept, each note with its end"
}
