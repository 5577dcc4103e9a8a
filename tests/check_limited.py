#!/usr/bin/env python3
"""What the report measures cannot hold it up: limited.py ends what hangs, with what that started, and says so."""
import sys, time
import limited

bad = 0


def check(what, good, more=""):
    global bad
    bad += not good
    print("ok -" if good else "not ok -", what, "" if good else f": {more}")


def alive(pid):
    try:
        return open(f"/proc/{pid}/stat").read().rsplit(")", 1)[1].split()[0] != "Z"
    except OSError:
        return False


out, said, took, end = limited.run(["sh", "-c", "echo seen; echo heard >&2"], 60)
check("what ends is told as it is", (out, said, end) == ("seen\n", "heard\n", "OK"), (out, said, end))
check("a failure is one", limited.run(["sh", "-c", "exit 3"], 60)[3] == "failed with status 3")
check("what is skipped is no failure", limited.run(["sh", "-c", "exit 77"], 60)[3] == "skipped")
out, said, took, end = limited.run(["sh", "-c", "trap '' TERM; sleep 1000 & echo $!; wait; sleep 1000"], 0.5)
check("what hangs is stopped, and it is said", end == "stopped after 0.5 s", end)
check("what it printed before is kept", out.strip().isdigit(), out)
until = time.monotonic() + 30
while alive(int(out)) and time.monotonic() < until:
    time.sleep(0.05)
check("what it started is stopped too", not alive(int(out)))
out, said, took, end = limited.run(["sh", "-c", "sleep 1000 & echo $!"], 500)
check("what is left running holds nothing up", end == "OK" and took < 400, (end, took))
sys.exit(1 if bad else 0)
