#!/usr/bin/env python3
"""stand_growth.py PROGRAM: the real window, played to by a file with fifty notes a second, five thousand in all: its
memory in use after the first tenth and at the end."""
import os, sys, time
import mido
from on_screen import Stand, check, run

program = sys.argv[1]
NOTES, A_SECOND = 5000, 50
STEPS = (0, 4, 7, 4, 5, 9, 7, 4, 2, 5, 4, 2, 0, -1, 0, 0)


def song(path):
    track = mido.MidiTrack()
    ticks = 960 // A_SECOND  # half a second is 480
    for i in range(NOTES):
        pitch = 60 + STEPS[i % 16] + i // 64 * 5 % 12
        track.append(mido.Message("note_on", note=pitch, velocity=80, time=1))
        track.append(mido.Message("note_off", note=pitch, time=ticks - 1))
    mido.MidiFile(tracks=[track], ticks_per_beat=480).save(path)


def resident_kb(pid):
    with open("/proc/%d/status" % pid) as f:
        return next(int(line.split()[1]) for line in f if line.startswith("VmRSS"))


def check_growth(folder):
    path = os.path.join(folder, "long.mid")
    song(path)
    stand = Stand(program, folder, "--from", path)
    time.sleep(1 + NOTES / A_SECOND / 10)
    early = resident_kb(stand.process.pid)
    time.sleep(NOTES / A_SECOND * 0.88)
    late = resident_kb(stand.process.pid)
    check("the notes were shown", "oval right" in stand.dump())
    print("resident after %d notes %d kB, after %d %d kB" % (NOTES // 10, early, NOTES * 98 // 100, late))
    check("it does not grow", late < early + 2048, (early, late))
    check("less than 120 MB", late < 120 * 1024, late)
    stand.ends_well()


sys.exit(run(program, check_growth))
