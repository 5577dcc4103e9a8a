#!/bin/sh
# The guest's first process: loads the sequencer, plays the program, leaves logs and MIDI files in /mnt (the host's
# folder), and switches off.  judge.py on the host looks at what is left there.
# While the guest waits for that folder its clock runs on, by seconds where the host is busy: whatever plays writes
# into memory, and `keep` moves it to the host when nothing plays.
export PATH=/bin:/usr/bin HOME=/root XDG_CONFIG_HOME=/root XDG_DATA_HOME=/root
mount -t proc p /proc; mount -t sysfs s /sys; mount -t devtmpfs d /dev; mount -t tmpfs t /tmp
mkdir -p /dev/shm; mount -t tmpfs s /dev/shm
for m in $(cat /etc/modorder); do
    o=
    case $m in
    snd-seq-dummy.ko) o="ports=2" ;;
    snd-virmidi.ko) o="midi_devs=4 index=1" ;;
    snd-aloop.ko) o="index=0 pcm_substreams=1" ;;
    esac
    insmod /lib/modules/"$m" $o || echo "insmod $m failed"
done
mount -t 9p -o trans=virtio,version=9p2000.L out /mnt || { echo "no folder of the host"; poweroff -f; }
mkdir /tmp/out; cd /tmp/out || poweroff -f
U="undersong play --patch /patches/midi-only.ini --key C --metre 4/4 --keep no"
A="Midi Through Port-0"
B="Midi Through Port-1"

# Waits until WORDS are in FILE, five seconds at most.
until_seen() { i=0; while [ $i -lt 100 ] && ! grep -qs "$1" "$2"; do sleep 0.05; i=$((i+1)); done; }
# Starts the program with words, logs to NAME.log, and waits until it reads its port.
begin() {
    name=$1; shift
    $U "$@" </dev/null >"$name.log" 2>"$name.err" & P=$!
    until_seen 'undersong watch' /proc/asound/seq/clients
    sleep 0.3
}
end() { kill -TERM $P; wait $P; echo "$?" >"$1.status"; }
keep() { mv ./* /mnt/; }
say() { echo "## $(cut -d' ' -f1 /proc/uptime) s: $*"; }

undersong ports >ports.log 2>&1

say a melody through the sequencer
begin melody --from "$A" --to "$B"
arecordmidi -b 120 -t 480 -p 14:1 melody.mid & R=$!
sleep 0.4; aplaymidi -d 1 -p 14:0 /root/melody.mid; sleep 0.3
end melody; sleep 0.2; kill -INT $R; wait $R; keep

say raw MIDI through virtual ports
begin raw --from "VirMIDI 1-0" --to "VirMIDI 1-1"
amidi -p hw:1,1 -d -t 3 >raw.hex & R=$!
sleep 0.3
for key in 3C 40 43; do amidi -p hw:1,0 -S "90 $key 64"; sleep 0.5; amidi -p hw:1,0 -S "80 $key 40"; done
sleep 0.3
end raw; wait $R; keep

say a keyboard that goes and comes back
mkfifo /tmp/keys # opened for both, so that it does not wait: a child that ends then would end the shell (EINTR)
seqtool port "Old Piano" </tmp/keys >piano1.txt & K=$!
exec 4<>/tmp/keys
(echo number; echo "sleep 60000") | seqtool port "Sound Box" >box.txt & BOX=$!
sleep 0.3
begin vanish --from "Old Piano" --to "Sound Box" --keep vanish.mid
echo "wait" >&4; echo "on 60 90" >&4; sleep 1.5
kill -KILL $K; exec 4>&-; wait $K 2>/dev/null
sleep 0.7
seqtool port "Old Piano" </tmp/keys >piano2.txt & K=$!
exec 4<>/tmp/keys
echo "wait" >&4; sleep 2.5; echo "on 64 90" >&4; sleep 0.4; echo "off 64" >&4; sleep 0.4

say an output whose number a stranger takes
kill -KILL $BOX; wait $BOX 2>/dev/null
(echo number; echo "sleep 60000") | seqtool port "Stranger" >stranger.txt & S=$!
sleep 0.4; echo "on 67 90" >&4; sleep 0.3; echo "off 67" >&4; sleep 0.3
(echo number; echo "sleep 60000") | seqtool port "Sound Box" >box2.txt & BOX=$!
sleep 2.5; echo "on 72 90" >&4; sleep 0.3; echo "off 72" >&4; sleep 0.3
end vanish; sleep 0.3; kill -KILL $BOX $S; exec 4>&-; wait $K $BOX $S 2>/dev/null; keep

say a thousand notes a second
begin flood --from "$A" --to "$B"
(echo "sleep 60000") | seqtool port "Counter" >flood.txt & C=$!
sleep 0.3
aconnect 14:1 "Counter"
seqtool flood 14:0 5000 1000 >flood.sent
sleep 2; end flood; sleep 1; kill -TERM $C; wait $C; keep

say a clock for a rhythm box, and a second output
(echo "sleep 60000") | seqtool port "Rhythm" >clock.txt & C=$!
(echo "sleep 60000") | seqtool port "Second" >second.txt & D=$!
sleep 0.3
begin clock --from "$A" --to "Rhythm" --to "Second" --clock
aplaymidi -d 0 -p 14:0 /root/melody.mid
end clock; sleep 0.5; kill -KILL $C $D; wait $C $D 2>/dev/null; keep

say an instrument that sounds what is played on it
mkfifo /tmp/own
seqtool port "Stage Piano" </tmp/own >own.txt & C=$!
exec 4<>/tmp/own
sleep 0.3
begin own --from "Stage" --to "Stage"
echo "wait" >&4; sleep 0.3
for key in 60 64 67; do echo "on $key 90" >&4; echo "sleep 400" >&4; echo "off $key" >&4; done
echo "sleep 60000" >&4; sleep 2; end own; sleep 0.5; exec 4>&-; kill -KILL $C; wait $C 2>/dev/null; keep

say sound through an ALSA card
card=/proc/asound/card0/pcm0p/sub0/status
if [ -f /usr/bin/undersong-sound.so ]; then
    undersong ports >cards.log 2>&1
    undersong play --from /root/slow.mid --to synth --audio alsa --patch /patches/one-voice.ini --key C --quiet \
        --keep no </dev/null >alsa.log 2>alsa.err & P=$!
    until_seen RUNNING $card
    cat /proc/asound/card0/pcm0p/sub0/hw_params >card.txt
    arecord -q -D plughw:0,1 -f S16_LE -c 2 -r 48000 -d 10 alsa.wav 2>arecord.err
    wait $P; echo "$?" >alsa.status; keep

    say the ALSA card is taken away in mid-play and comes back
    driver=/sys/bus/platform/drivers/snd_aloop
    undersong play --from /root/slow.mid --to synth --audio alsa --patch /patches/one-voice.ini --key C --quiet \
        --keep no </dev/null >taken.log 2>taken.err & P=$!
    until_seen RUNNING $card; sleep 1
    echo snd_aloop.0 >$driver/unbind & T=$!
    sleep 1.5; wait $T
    echo snd_aloop.0 >$driver/bind; until_seen RUNNING $card
    arecord -q -D plughw:0,1 -f S16_LE -c 2 -r 48000 -d 2 taken.wav 2>taken-arecord.err
    wait $P; echo "$?" >taken.status; keep
fi

say how long an answer takes
# In turn, so that a busy host burdens all alike.  The left hand is on channel 1; the first eight notes find the beat.
notes=$(cat /etc/notes)
for run in 1 2; do
    for kind in "" loop; do
        seqtool echo "$A" "$B" $kind >/tmp/echo.ready & E=$!; until_seen ready /tmp/echo.ready
        seqtool latency 14:0 14:1 "$notes" 0 >>"echo$kind.txt"; kill -TERM $E; wait $E; : >/tmp/echo.ready
    done
    begin latency --from "$A" --to "$B" --quiet --change beat
    seqtool latency 14:0 14:1 "$notes" 1 >>answer.txt; end latency
done
keep
say end
echo done >/mnt/finished; sync; umount /mnt; poweroff -f
