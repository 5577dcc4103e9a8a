#!/bin/sh
# jack.sh PROGRAM: the program plays on a private JACK server (dummy driver), jack_rec records it, aubio and sox judge
# pitches and level; then the server is killed and started again in mid-play.
set -u
. "$(dirname "$0")/common.sh"
need jackd jack_rec jack_lsp aubiopitch sox
JACK_DEFAULT_SERVER=undersong$$ JACK_NO_AUDIO_RESERVATION=1 JACK_NO_START_SERVER=1
export JACK_DEFAULT_SERVER JACK_NO_AUDIO_RESERVATION JACK_NO_START_SERVER
up() { jackd -n "$JACK_DEFAULT_SERVER" -r -d dummy -r 48000 -p 512 >>"$work/jackd.log" 2>&1 & server=$!; wait_for 1000 jack_lsp; }
# Ports are there before they can be connected: both are, where the program has connected them to the server's own.
ports() { [ "$(jack_lsp -c system:playback_ 2>/dev/null | grep -c '^   *undersong-sound:')" = 2 ]; }
recording() { [ "$(jack_lsp -c jackrec: 2>/dev/null | grep -c '^   *undersong-sound:')" = 2 ]; }
recording_or_over() { recording || ! kill -0 $recorder 2>/dev/null; }
hear() { # file, pitches: presses these keys while it records; the server may refuse a recorder its first connection
    file=$1; shift
    recorded=1
    for _ in 1 2 3 4 5; do
        record "$@" && recorded=0 && break
        echo "# the recorder did not start: $(tail -n 1 "$work/rec.log")"
    done
    tell $recorded "it is recorded"
}
record() { # pitches
    IFS='
' # the names of ports have spaces
    # shellcheck disable=SC2046
    jack_rec -f "$file" -d $(($# + 3)) $(jack_lsp | grep '^undersong-sound:') >>"$work/rec.log" 2>&1 & recorder=$!
    unset IFS
    wait_for 500 recording_or_over
    recording || { kill $recorder 2>/dev/null; wait $recorder; return 1; }
    press "$@"
    wait $recorder
}
up || skip "a private JACK server does not start here"
begin --audio jack
wait_for 1000 ports; tell $? "the program appears on the server"
hear "$work/short.wav" 60 60 64 67 72
exec 3>&-
wait $player; tell $? "it ends with its keyboard"
/usr/bin/python3 "$here/listen.py" "$work/short.wav" 60,64,67,72 || failed=1

: >"$work/said"
begin --audio jack
wait_for 1000 ports; press 60 62
kill $server; wait $server 2>/dev/null
press 60 62
kill -0 $player; tell $? "it plays on while the server is gone"
up; wait_for 1000 grep -q 'sound again' "$work/said" && wait_for 1000 ports; tell $? "it is on the new server"
hear "$work/again.wav" 60 60 62 60
/usr/bin/python3 "$here/listen.py" "$work/again.wav" 60,62,60 || failed=1
for _ in 1 2 3 4 5; do kill -STOP $player; sleep 0.1; kill -CONT $player; sleep 0.4; done
wait_for 100 grep -q 'the sound has gaps' "$work/said"; tell $? "gaps in the sound are told"
kill -TERM $player; wait $player; tell $? "it ends when told"
all_kept
[ "$(grep -c 'has gaps' "$work/said")" = 1 ]; tell $? "once"
grep -q 'lost' "$work/said" && grep -q 'sound again' "$work/said"; tell $? "the loss and the return are told"
[ "$(grep -c lost "$work/said")" = 1 ]; tell $? "once each"
kill $server; wait $server 2>/dev/null
[ $failed = 0 ] || sed 's/^/# /' "$work/said"
exit $failed
