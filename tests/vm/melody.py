#!/usr/bin/env python3
"""melody.py OUT.mid [SECONDS]: the melody that is played into the virtual machine, two bars of four quarters of so
many seconds (0.4), written by python3-mido."""
import sys
import mido

NOTES = [60, 64, 67, 64, 65, 62, 59, 60]
if __name__ == "__main__":
    f = mido.MidiFile(type=0, ticks_per_beat=480)
    track = mido.MidiTrack()
    f.tracks.append(track)
    seconds = float(sys.argv[2]) if len(sys.argv) > 2 else 0.4
    track.append(mido.MetaMessage("set_tempo", tempo=int(seconds * 1e6)))
    for note in NOTES:
        track.append(mido.Message("note_on", note=note, velocity=90, time=40))
        track.append(mido.Message("note_off", note=note, velocity=64, time=440))
    f.save(sys.argv[1])
