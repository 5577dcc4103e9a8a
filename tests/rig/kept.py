#!/usr/bin/env python3
"""kept.py FILE.mid PRESSED: whether the melody in a kept file (read by python3-mido) is what was pressed, a pitch a line, and
every note in it has its end."""
import os, sys
import mido
sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), ".."))
from listening import still_down

messages = list(mido.MidiFile(sys.argv[1]))
melody = [m.note for m in messages if m.type == "note_on" and m.velocity and m.channel == 0]
pressed = [int(line) for line in open(sys.argv[2])]
if melody != pressed or still_down(messages):
    print("# pressed", pressed, "kept", melody, "without an end", still_down(messages))
    sys.exit(1)
