#!/usr/bin/env python3
"""listen.py FILE.wav NOTES [FROM_S]: what a recording holds: checks that the pitches (MIDI numbers, with commas)
are heard in this order by aubio's pitch tracker (package aubio-tools), that the level is neither silent nor at full
scale, and prints one TAP-like line a check; exit status 1 where one fails."""
import re, subprocess, sys

path, wanted = sys.argv[1], [int(n) for n in sys.argv[2].split(",")]
out = subprocess.run(["aubiopitch", "-i", path, "-u", "midi", "-p", "yinfft", "-B", "4096", "-H", "512", "-s", "-50"],
                     capture_output=True, text=True).stdout
heard = [round(float(line.split()[1])) for line in out.splitlines() if float(line.split()[1]) > 20]
runs = []
for note in heard:
    if runs and runs[-1][0] == note:
        runs[-1][1] += 1
    else:
        runs.append([note, 1])
steady = [note for note, length in runs if length >= 6]
steady = [n for i, n in enumerate(steady) if i == 0 or n != steady[i - 1]]
position = 0
for note in steady:
    if position < len(wanted) and note == wanted[position]:
        position += 1
stat = subprocess.run(["sox", path, "-n", "stat"], capture_output=True, text=True).stderr
found = re.search(r"Maximum amplitude:\s*([-0-9.]+)", stat)
peak = float(found.group(1)) if found else 0.0
good = position == len(wanted) and 0.02 < peak < 0.99
print(f"# heard {steady}, peak {peak:.3f}")
print(f"{'ok' if good else 'not ok'} - {path}: pitches {wanted} and the level")
sys.exit(0 if good else 1)
