#!/usr/bin/env python3
"""melody.py OUT.mid: the melody that is played into the virtual machine, two bars of four quarters at 150 a minute,
written by python3-mido."""
import sys
import mido

NOTES = [60, 64, 67, 64, 65, 62, 59, 60]
if __name__ == "__main__":
    f = mido.MidiFile(type=0, ticks_per_beat=480)
    track = mido.MidiTrack()
    f.tracks.append(track)
    track.append(mido.MetaMessage("set_tempo", tempo=400000))
    for note in NOTES:
        track.append(mido.Message("note_on", note=note, velocity=90, time=40))
        track.append(mido.Message("note_off", note=note, velocity=64, time=440))
    f.save(sys.argv[1])
