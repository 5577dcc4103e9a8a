#!/usr/bin/env python3
"""bench_sheets.py UNDERSONG DEMO_SONGS [FOLDER...]: how long one call takes for a folder of tunes.  Prints the median
and the range of five calls for `sheet --format lilypond`, with and without fingering, and for `review`.  Without
folders, 734 copies of the demo songs."""
import os
import statistics
import subprocess
import sys
import tempfile
import time

undersong, songs, *folders = sys.argv[1:]
TUNES = 734


def clock(*words):
    times = []
    for _ in range(5):
        start = time.monotonic()
        subprocess.run([undersong, *words], check=True, capture_output=True)
        times.append(time.monotonic() - start)
    return f"median {statistics.median(times):.2f} s ({min(times):.2f} to {max(times):.2f})"


with tempfile.TemporaryDirectory() as scratch:
    if not folders:
        folders = [os.path.join(scratch, "songs")]
        os.mkdir(folders[0])
        demos = sorted(n for n in os.listdir(songs) if n.endswith(".abc"))
        for i in range(TUNES):
            os.symlink(os.path.abspath(os.path.join(songs, demos[i % len(demos)])), f"{folders[0]}/{i:04}.abc")
    out = os.path.join(scratch, "out")
    os.mkdir(out)
    print("sheet --format lilypond:", clock("sheet", *folders, "--format", "lilypond", "--to", out))
    print(len(os.listdir(out)), "files")
    print("the same with --fingering:", clock("sheet", *folders, "--fingering", "--format", "lilypond", "--to", out))
    demo = next(n for n in sorted(os.listdir(songs)) if n.endswith(".mid"))
    print("review of one demo, songbook searched:", clock("review", os.path.join(songs, demo), "--songbook", songs))
