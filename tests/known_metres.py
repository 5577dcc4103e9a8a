#!/usr/bin/env python3
"""A known tune that changes its metre at a bar line is counted as it is written.

usage: known_metres.py PROGRAM
"""
import os
import re
import subprocess
import sys
import tempfile

TUNE = """X:1
T:Two ways of counting
M:3/4
L:1/4
Q:1/4=100
K:G
D|G2 A|B2 A|G2 F|G3|[M:4/4]G2 B2|d2 c B|A2 c2|B4|[M:6/8]G/A/B/c/B/A/|G3/G3/|]
"""

with tempfile.TemporaryDirectory() as folder:
    path = os.path.join(folder, "tune.abc")
    with open(path, "w") as out:
        out.write(TUNE)
    done = subprocess.run([sys.argv[1], "play", "--tune", path, "--from", path, "--to", os.path.join(folder, "o.mid"),
                           "--virtual-time"], capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, done.stderr
    lines = re.findall(r"^ *(\d+\.\d|pickup) .*?([A-G]#?\d|\(held\))", done.stdout, re.M)
    struck = re.findall(r"^ *(\d+)\.1 .*[A-G]#?\d [A-G]#?\d", done.stdout, re.M)
    wanted = ["pickup", "1.1", "1.3", "2.1", "2.3", "3.1", "3.3", "4.1", "5.1", "5.3", "6.1", "6.3", "6.4", "7.1", "7.3",
              "8.1", "9.1", "9.2", "10.1", "10.2"]
    got = [where for where, note in lines if note != "(held)"]
    assert got == wanted, f"bars and beats: {got}\n{done.stdout}"
    assert struck == [str(bar) for bar in range(1, 11)], f"the left hand at bar lines: {struck}\n{done.stdout}"
    assert "counted in 4/4" in done.stdout and "counted in 6/8" in done.stdout, done.stdout
print("ok")
