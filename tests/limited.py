"""Runs a command for so many seconds at most, with all that it started: a thing that hangs, or leaves something running
that holds its output, must not hold up what comes after."""
import os, signal, subprocess, tempfile, time


def end_group(leader):
    try:
        os.killpg(leader, signal.SIGTERM)
        time.sleep(0.2)
        os.killpg(leader, signal.SIGKILL)
    except ProcessLookupError:
        pass


def run(words, seconds, cwd=None):
    """What it printed, what it said on standard error, how long it took, and how it ended: "OK", "skipped" (status 77),
    "failed with status N" or "stopped after N s"."""
    with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as said:
        began = time.monotonic()
        p = subprocess.Popen(words, cwd=cwd, stdin=subprocess.DEVNULL, stdout=out, stderr=said, start_new_session=True)
        try:
            status = p.wait(seconds)
            end = "OK" if status == 0 else "skipped" if status == 77 else f"failed with status {status}"
        except subprocess.TimeoutExpired:
            end = f"stopped after {seconds:g} s"
        took = time.monotonic() - began
        end_group(p.pid)
        p.wait()
        texts = []
        for file in (out, said):
            file.seek(0)
            texts.append(file.read().decode(errors="replace"))
    return texts[0], texts[1], took, end
