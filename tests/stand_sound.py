#!/usr/bin/env python3
"""stand_sound.py PROGRAM: sound on and off and the level in the window, measured in what a private PulseAudio server
with a null sink records."""
import array, math, os, shutil, subprocess, sys, time
from on_screen import SKIPPED, Stand, accessible, check, choose, do, run, tab_to, wait_for

program = sys.argv[1]
RATE = 48000


def start_server(folder):
    socket = os.path.join(folder, "native")
    os.environ.update(PULSE_SERVER="unix:" + socket, PULSE_RUNTIME_PATH=os.path.join(folder, "pulse"))
    server = subprocess.Popen(["pulseaudio", "-n", "--daemonize=no", "--exit-idle-time=-1", "--use-pid-file=no",
                               "--realtime=no", "--high-priority=no", "-L",
                               "module-native-protocol-unix auth-anonymous=1 socket=" + socket, "-L",
                               "module-null-sink sink_name=rig rate=48000 channels=2 format=float32le",
                               "--log-level=error"], stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL,
                              stderr=subprocess.DEVNULL)
    return server, wait_for(lambda: subprocess.run(["pactl", "info"], capture_output=True).returncode == 0, 10)


def playing():
    return subprocess.run(["pactl", "list", "short", "sink-inputs"], capture_output=True, text=True).stdout.strip()


def whole(data):
    return data[:len(data) // 2 * 2]


def record(keys, seconds):
    recorder = subprocess.Popen(["parec", "--device=rig.monitor", "--rate=%d" % RATE, "--channels=1", "--format=s16le",
                                 "--latency-msec=20"], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
    time.sleep(0.6)
    for key in keys:
        do("keydown", key)
    time.sleep(seconds)
    for key in keys:
        do("keyup", key)
    time.sleep(2.5)  # the server's own delay, and the note's end
    recorder.terminate()
    return array.array("h", whole(recorder.communicate()[0]))


def level_db(keys="z", seconds=1.2):
    """How loud it is while a key is held, in decibels below full scale (root mean square)."""
    for _ in range(6):
        samples = record(keys, seconds)
        if len(samples) > 2 * RATE:  # a null sink that pauses gives half a second: recorded again
            break
    else:
        check("the server gives something to record", False, len(samples))
    loudest = max((sum(x * x for x in samples[i:i + 4800]) for i in range(0, len(samples) - 4800, 4800)), default=0)
    return 10 * math.log10(max(loudest / 4800 / 32768 ** 2, 1e-12))


def check_levels(folder):
    server, up = start_server(folder)
    try:
        if not up:
            print("skipped: a private PulseAudio server does not start here")
            sys.exit(SKIPPED)
        listen_to_levels(folder)
    finally:
        server.terminate()
        server.wait()


def listen_to_levels(folder):
    stand = Stand(program, folder, audio="pulse")
    check("the window is on the server", wait_for(playing, 15))
    time.sleep(1)
    app = accessible(stand.process.pid)
    tab_to(app, "left hand on")  # the melody alone: one note is as loud as the other
    do("key", "space")
    level_db()  # the first sound of a server may come late
    usual = level_db()
    check("a held key is heard", usual > -50, usual)
    tab_to(app, "how loud")
    do("key", "Home")
    silent = level_db()
    check("at the lowest level nothing is heard", silent < usual - 40, (usual, silent))
    do("key", "End")
    full = level_db()
    wanted = 20 * math.log10(1 / 0.7)  # from 0.7 to 1
    check("the full level is louder by so much", abs(full - usual - wanted) < 2, (usual, full, wanted))
    for _ in range(10):
        do("key", "Left")  # by a twentieth
    half = level_db()
    check("half is 6 dB less", abs(full - half - 6) < 2.5, (full, half))
    tab_to(app, "sound on")
    do("key", "space")
    off = level_db()
    check("switched off nothing is heard", off < usual - 40, (usual, off))
    do("key", "space")
    again = level_db()
    check("switched on it is as it was", abs(again - half) < 2, (half, again))
    check_restart(app, again)
    print("levels: usual %.1f, full %.1f, half %.1f, off %.1f, again %.1f dB" % (usual, full, half, off, again))
    stand.ends_well()


def check_restart(app, before):
    """Another tune is a new session: the sound goes on, at the same level, on the same stream."""
    stream = playing().split()[0]
    do("key", "alt+b")
    time.sleep(0.6)
    check("the same stream", playing().split()[0] == stream, playing())
    after = level_db()
    check("at the same level", abs(after - before) < 2, (before, after))
    do("key", "alt+m")
    choose(app, "the instruments", -1)
    check("other instruments: another stream", wait_for(lambda: playing().split()[:1] not in ([], [stream]), 10),
          playing())
    time.sleep(2)
    other = level_db()
    check("other instruments sound too", other > -60, other)


for tool in ("pulseaudio", "pactl", "parec"):
    if not shutil.which(tool):
        print("skipped: no", tool)
        sys.exit(SKIPPED)
sys.exit(run(program, check_levels))
