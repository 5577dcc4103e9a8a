#!/bin/sh
# bench_jack.sh PROGRAM BENCH PERIOD...: note byte in to first frame, on a private JACK server (dummy driver) of each period.
# Idle loops keep the processors awake: those of a virtual machine need milliseconds to wake, and the server is late then.
set -u
bench=$2
. "$(dirname "$0")/common.sh"
shift 2
need jackd jack_lsp
JACK_DEFAULT_SERVER=undersong$$ JACK_NO_AUDIO_RESERVATION=1 JACK_NO_START_SERVER=1
export JACK_DEFAULT_SERVER JACK_NO_AUDIO_RESERVATION JACK_NO_START_SERVER
cat >"$work/block.ini" <<'PATCH'
[patch]
name = A wood block, for its sharp start
[melody]
program = 116
level = 127
reverb = 0
[left-hand]
program = 116
level = 0
PATCH
idle=
for _ in $(seq "$(nproc)"); do chrt -i 0 sh -c 'while :; do :; done' & idle="$idle $!"; done
# shellcheck disable=SC2086
trap 'kill $idle 2>/dev/null; clean' EXIT
for period in "$@"; do
    jackd -n "$JACK_DEFAULT_SERVER" -R -P 60 -d dummy -r 48000 -p "$period" >"$work/jackd.log" 2>&1 & server=$!
    wait_for 500 jack_lsp || skip "a private JACK server does not start here"
    "$bench" "$program" "$work/block.ini" || failed=1
    kill $server; wait $server 2>/dev/null
done
exit $failed
