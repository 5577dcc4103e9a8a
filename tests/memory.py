#!/usr/bin/env python3
"""memory.py PROGRAM PARTS: the program's parts are opened only where they are needed: resident memory (Linux, proc(5), VmRSS)
without sound under 10 MB and with the usual sound font under 45 MB; where a part is missing, one line says so and
everything else works.  PARTS is where an installed program finds them."""
import os, re, shutil, subprocess, sys, tempfile, time

program, installed = os.path.abspath(sys.argv[1]), sys.argv[2]
MELODY = bytes.fromhex("903c5a 803c40 90405a 804040 90435a 804340".replace(" ", ""))
bad = 0


def check(what, good, more=""):
    global bad
    bad += not good
    print(f"{'ok' if good else 'not ok'} - {what}{f' # {more}' if more or not good else ''}")


def megabytes(*words):
    """VmRSS while it plays."""
    p = subprocess.Popen([program, "play", "--from", "-", "--to", "-", "--key", "C", "--keep", "no", *words],
                         stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, bufsize=0)
    p.stdin.write(MELODY)
    got = b""
    while len(got) < len(MELODY) and (more := p.stdout.read(64)):
        got += more
    time.sleep(1)  # the sound goes on in a thread of its own
    kilobytes = int(re.search(r"VmRSS:\s+(\d+) kB", open(f"/proc/{p.pid}/status").read()).group(1))
    p.stdin.close()
    p.stdout.read()
    return kilobytes / 1000 if p.wait() == 0 else 1e9


def alone(folder):
    """The program without its parts."""
    copy = shutil.copy(program, folder)
    os.symlink(os.path.join(os.path.dirname(program), "undersong-patches"), os.path.join(folder, "undersong-patches"))
    run = subprocess.run([copy, "play", "--from", "-", "--to", "-", "--key", "C", "--quiet", "--keep", "no"], input=MELODY,
                         capture_output=True)
    check("without its parts it plays from a pipe", run.returncode == 0 and run.stdout[:3] == MELODY[:3], run.stderr)
    tune = os.path.join(folder, "tune.xml")
    open(tune, "w").write('<?xml version="1.0"?><score-partwise/>')
    for part, words in (("sound", ["play", "--from", "-", "--to", "synth"]), ("musicxml", ["harmonize", tune]),
                        ("pictures", ["stand", "--picture", os.path.join(folder, "x.png")]), ("window", ["stand"])):
        run = subprocess.run([copy, *words, *(["--keep", "no"] if words[0] == "play" else [])], input=b"",
                             capture_output=True)
        said = run.stderr.decode()
        built = os.path.exists(os.path.join(os.path.dirname(program), f"undersong-{part}.so"))
        check(f"without the part for {part}: one line", not built or run.returncode == 1 and said.count("\n") == 1
              and f"the part for {part} is not there" in said, said.strip())


with tempfile.TemporaryDirectory() as folder:
    os.environ.update(XDG_CONFIG_HOME=folder, XDG_DATA_HOME=folder, HOME=folder)
    small = megabytes()
    check("without sound under 10 MB", small < 10, f"{small:.1f} MB")
    if os.path.exists(os.path.join(os.path.dirname(program), "undersong-sound.so")):
        loud = megabytes("--to", "synth", "--audio", "dummy")
        check("with sound under 45 MB", loud < 45, f"{loud:.1f} MB")
    if os.path.isdir(installed):
        print(f"ok - without its parts # SKIP others are installed in {installed}")
    else:
        alone(folder)
sys.exit(1 if bad else 0)
