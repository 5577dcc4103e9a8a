#!/usr/bin/env python3
"""bench_window.py PROGRAM: from the start of `stand` to its first picture, and its memory, on a screen of its own."""
import os, shutil, signal, statistics, subprocess, sys, tempfile, time
from on_screen import start_screen

program = sys.argv[1]
if not shutil.which("Xvfb"):
    print("not measured: no Xvfb")
    sys.exit(0)
server, display = start_screen()
took, resident = [], []
try:
    with tempfile.TemporaryDirectory() as folder:
        os.environ.update(DISPLAY=display, GTK_A11Y="none", XDG_CONFIG_HOME=folder, XDG_DATA_HOME=folder, HOME=folder)
        for i in range(11):
            dump = os.path.join(folder, f"scene{i}")
            began = time.time()
            p = subprocess.Popen([program, "stand", "--audio", "dummy", "--size", "1920x1080", "--dump-scene", dump])
            while not os.path.exists(dump) and time.time() < began + 20:
                time.sleep(0.002)
            took.append(time.time() - began)
            time.sleep(1)
            with open(f"/proc/{p.pid}/status") as f:
                resident.append(next(int(line.split()[1]) for line in f if line.startswith("VmHWM")) / 1024)
            p.send_signal(signal.SIGTERM)
            p.wait(10)
finally:
    server.terminate()
    server.wait()
print(f"first picture: median {statistics.median(took):.2f} s, slowest of {len(took)} {max(took):.2f} s; "
      f"memory at most {max(resident):.0f} MB")
