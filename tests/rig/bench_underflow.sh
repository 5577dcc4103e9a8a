#!/bin/sh
# bench_underflow.sh BENCH SECONDS PERIOD...: underflows of the program's sound and of a bare sine through libsoundio, at
# the same time, each on a private JACK server (dummy driver) of its own, with one processor kept busy.  Idle loops keep
# every processor awake: those of a virtual machine need milliseconds to wake, and then the server itself is late.
set -u
bench=$1 seconds=$2
shift 2
periods=$*
for tool in jackd jack_lsp; do command -v "$tool" >/dev/null || { echo "no $tool"; exit 77; }; done
JACK_NO_AUDIO_RESERVATION=1 JACK_NO_START_SERVER=1
export JACK_NO_AUDIO_RESERVATION JACK_NO_START_SERVER
work=$(mktemp -d) || exit 1
busy='' servers='' players='' failed=0
clean() { # nothing keeps a processor busy when this is over
    # shellcheck disable=SC2086
    kill $busy $servers $players 2>/dev/null
    rm -rf "$work"
}
trap clean EXIT
trap 'exit 1' HUP INT TERM
sh -c 'while :; do :; done' & busy=$!
for _ in $(seq "$(nproc)"); do chrt -i 0 sh -c 'while :; do :; done' & busy="$busy $!"; done
each() { # command: for each period and kind, with a name of its own in `server`, as a period may be given twice
    n=0
    for period in $periods; do
        n=$((n + 1))
        for kind in sine ours; do
            server=$n-$kind JACK_DEFAULT_SERVER=undersong$$-$n-$kind
            export JACK_DEFAULT_SERVER
            "$1"
        done
    done
}
serve() {
    jackd -n "$JACK_DEFAULT_SERVER" -R -P 60 -d dummy -r 48000 -p "$period" >"$work/jackd.log" 2>&1 & servers="$servers $!"
    i=0; while [ $i -lt 200 ] && ! jack_lsp >/dev/null 2>&1; do sleep 0.05; i=$((i + 1)); done
}
play() {
    "$bench" "$kind" "$seconds" >"$work/$server" 2>/dev/null & players="$players $!"
    sleep 0.3 # clients that begin at once may miss their servers
}
tell() { cat "$work/$server"; }
each serve
each play
for player in $players; do wait "$player" || failed=1; done
each tell
exit $failed
