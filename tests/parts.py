#!/usr/bin/env python3
"""parts.py PROGRAM DEMO_SONGS PART=yes|no...: what every build can do - bytes, MIDI files, ABC, chords, sheets, the
review - and, for each optional part that this build lacks, one clear line that says so, with exit status 2."""
import atexit, os, shutil, subprocess, sys, tempfile

program, songs = sys.argv[1:3]
parts = dict(word.split("=") for word in sys.argv[3:])
bad = 0
work = tempfile.mkdtemp(prefix="undersong-parts-")
atexit.register(shutil.rmtree, work, True)
song = os.path.join(songs, "breakwater-lamp.abc")
out = lambda name: os.path.join(work, name)


def check(what, good, more=""):
    global bad
    bad += not good
    print("ok -" if good else "not ok -", what, "" if good else more)


def run(*words, given=b"", data=work):
    home = dict(os.environ, HOME=work, XDG_DATA_HOME=data, XDG_CONFIG_HOME=work)
    r = subprocess.run([program, *words], input=given, env=home, capture_output=True, timeout=60)
    return r.returncode, r.stdout, r.stderr.decode()


def always():
    status, heard, said = run("play", "--from", "-", "--to", "-", "--key", "C", "--quiet",
                              given=bytes([0x90, 60, 90, 0x80, 60, 64]))
    check("bytes in, bytes out", status == 0 and len(heard) > 20 and not said, (status, heard, said))
    status, heard, said = run("play", "--from", "-", "--to", "-", "--quiet", given=bytes([0x90, 60, 90]), data="/proc")
    check("what must be said is said in quiet, too", status == 0 and len(heard) > 3 and said.count("\n") == 1 and
          "not kept" in said, (status, heard, said))
    status, _, said = run("play", "--virtual-time", "--quiet", "--from", song, "--to", out("a.mid"))
    check("an ABC tune into a MIDI file", status == 0 and open(out("a.mid"), "rb").read(4) == b"MThd", said)
    status, _, said = run("play", "--virtual-time", "--quiet", "--from", out("a.mid"), "--to", out("b.mid"))
    check("a MIDI file into a MIDI file", status == 0 and os.path.getsize(out("b.mid")) > 100, said)
    for name, end in (("text", ""), ("json", ""), ("abc", ""), ("musicxml", ""), ("lilypond", ""), ("midi", "c.mid")):
        words = ["--to", out(end)] if end else []
        status, text, said = run("harmonize", "--format", name, *words, song)
        check(f"harmonize into {name}", status == 0 and (os.path.getsize(out(end)) if end else len(text)) > 100, (status, said))
    status, text, said = run("sheet", "--format", "abc", song)
    check("a sheet", status == 0 and b"X:" in text, said)
    for size in ("800x600junk", "99999999999x5", "4294968576x720", "800x", " 800x600", "800x+600", "319x240", "9000x600", ""):
        status, _, said = run("stand", "--picture", out("size.svg"), "--size", size)
        check(f"no size: {size!r}", status == 2 and said.count("\n") == 1 and "--size" in said, (status, said))
    status, text, said = run("review", "--tune", song, out("a.mid"))
    check("a review", status == 0 and text, said)


def missing(part, *words):
    if parts[part] == "yes":
        return
    status, _, said = run(*words)
    check(f"without {part}: {' '.join(os.path.basename(w) for w in words)}",
          status == 2 and said.count("\n") == 1 and "this build has no" in said, (status, said))


always()
run("harmonize", "--format", "musicxml", "--to", out("t.musicxml"), song)
missing("sound", "play", "--from", "-")
missing("sound", "play", "--virtual-time", "--from", song, "--to", out("x.wav"))
missing("ports", "play", "--to", "-")
missing("ports", "play", "--from", "-", "--to", "Piano")
missing("musicxml", "harmonize", out("t.musicxml"))
missing("musicxml", "sheet", out("t.musicxml"))
missing("patches", "play", "--from", "-", "--to", "-", "--patch", "music-box")
missing("pictures", "stand", "--picture", out("x.png"), "--from", song)
missing("pictures", "review", "--tune", song, "--format", "png", "--to", out("r.png"), out("a.mid"))
missing("window", "stand")
status, text, said = run("ports")
for part, words in (("ports", b"This build has no MIDI ports"), ("sound", b"This build has no sound")):
    check(f"`ports` tells of {part}", (words in text) == (parts[part] == "no"), text)
left = [n for n, part in (("x.wav", "sound"), ("x.png", "pictures"), ("r.png", "pictures"))
        if parts[part] == "no" and os.path.exists(out(n))]
check("nothing half made is left", not left, left)
sys.exit(1 if bad else 0)
