# Shared by the rigs: a folder of its own, a melody that python3-mido writes, a patch whose left hand is silent so that
# a pitch tracker hears one voice, and the program on a private sound server.
program=$1
here=$(cd "$(dirname "$0")" && pwd)
work=$(mktemp -d)
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
/usr/bin/python3 - "$work" <<'PYTHON'
import sys, mido
def write(name, notes, seconds):
    f = mido.MidiFile(ticks_per_beat=480)
    track = mido.MidiTrack()
    f.tracks.append(track)
    for note in notes:
        track.append(mido.Message("note_on", note=note, velocity=100, time=0))
        track.append(mido.Message("note_off", note=note, velocity=64, time=int(seconds * 960)))
    f.save(f"{sys.argv[1]}/{name}.mid")
write("short", [60, 64, 67, 72], 0.7)
write("long", [60, 62] * 20, 0.5)
PYTHON
skip() { echo "1..0 # SKIP $1"; rm -rf "$work"; exit 77; }
need() { for tool in "$@"; do command -v "$tool" >/dev/null || skip "$tool is not installed"; done; }
failed=0
tell() { # status, words
    if [ "$1" = 0 ]; then echo "ok - $2"; else echo "not ok - $2"; failed=1; fi
}
wait_for() { # tries of 20 ms, command
    tries=$1; shift
    while [ "$tries" -gt 0 ]; do "$@" >/dev/null 2>&1 && return 0; sleep 0.02; tries=$((tries - 1)); done
    return 1
}
play() { exec "$program" play --patch "$work/one-voice.ini" --key C --metre 4/4 --quiet "$@" 2>>"$work/said"; }
