#!/bin/sh
# pulse.sh PROGRAM: the program plays on a private PulseAudio server with a null sink, parec records its monitor, aubio
# and sox judge pitches and level; then the server is killed and started again in mid-play.
set -u
. "$(dirname "$0")/common.sh"
need pulseaudio pactl parec aubiopitch sox
XDG_RUNTIME_DIR=$work PULSE_RUNTIME_PATH=$work/pulse HOME=$work PULSE_SERVER=unix:$work/native
export XDG_RUNTIME_DIR PULSE_RUNTIME_PATH HOME PULSE_SERVER
unset DBUS_SESSION_BUS_ADDRESS DISPLAY
up() {
    pulseaudio -n --daemonize=no --exit-idle-time=-1 --use-pid-file=no --realtime=no --high-priority=no \
        -L "module-native-protocol-unix auth-anonymous=1 socket=$work/native" \
        -L "module-null-sink sink_name=rig rate=48000 channels=2 format=float32le" \
        --log-target=stderr --log-level=error 2>>"$work/pulse.log" & server=$!
    wait_for 500 pactl info
}
playing() { pactl list short sink-inputs | grep -q .; }
recording() { pactl list short source-outputs | grep -q .; }
hear() { # file, pitches: presses these keys while it records
    file=$1; shift
    parec --device=rig.monitor --rate=48000 --channels=2 --format=s16le --file-format=wav --latency-msec=20 "$file" & recorder=$!
    wait_for 500 recording; tell $? "it is recorded"
    press "$@"; sleep 0.5
    kill $recorder; wait $recorder 2>/dev/null
    # parec that was stopped leaves the length open: written anew by sox
    sox --ignore-length "$file" "$file.wav" 2>/dev/null && mv "$file.wav" "$file"
}
# The null sink takes a first buffer and then pauses for two seconds: until it flows nobody would hear a note.
flowing() { wait_for 1000 playing && sleep 3; }
up || skip "a private PulseAudio server does not start here"
begin --audio pulse
flowing; tell $? "the program appears on the server"
hear "$work/short.wav" 60 60 64 67 72
exec 3>&-
wait $player; tell $? "it ends with its keyboard"
/usr/bin/python3 "$here/listen.py" "$work/short.wav" 60,64,67,72 || failed=1

begin --audio pulse
flowing; press 60 62
kill -KILL $server; wait $server 2>/dev/null; rm -f "$work/native"
press 60 62
kill -0 $player; tell $? "it plays on while the server is gone"
up; flowing; tell $? "it is on the new server"
hear "$work/again.wav" 60 60 62 60
/usr/bin/python3 "$here/listen.py" "$work/again.wav" 60,62,60 || failed=1
pactl unload-module module-null-sink
wait_for 200 sh -c "[ \$(grep -c lost '$work/said') = 2 ]"; tell $? "the loss of the only output is told"
kill -0 $player; tell $? "it plays on without an output"
pactl load-module module-null-sink sink_name=rig rate=48000 channels=2 format=float32le >/dev/null
flowing; tell $? "it is on the new output"
kill -TERM $player; wait $player; tell $? "it ends when told"
all_kept
grep -q 'lost' "$work/said" && grep -q 'sound again' "$work/said"; tell $? "the loss and the return are told"
kill $server; wait $server 2>/dev/null
[ $failed = 0 ] || sed 's/^/# /' "$work/said"
exit $failed
