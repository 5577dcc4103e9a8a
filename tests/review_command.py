#!/usr/bin/env python3
"""review_command.py UNDERSONG DEMO_SONGS: the command `review` from outside, on the demo performances.  What went
wrong in them stands in their first track as text, and mido reads it."""
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile

import checks
from checks import check

import mido

undersong, songs = sys.argv[1:]


def run(*words, **extra):
    return subprocess.run([undersong, "review", *words], capture_output=True, text=True, timeout=60, **extra)


scratch = tempfile.TemporaryDirectory()
names = sorted(n[:-4] for n in os.listdir(songs) if n.endswith(".mid") and os.path.exists(f"{songs}/{n[:-4]}.abc"))
as_printed = []
told = {"wrong": 0, "waited": 0}
found = {"wrong": 0, "waited": 0}
stories = ""
for name in names:
    done = run(f"{songs}/{name}.mid", "--tune", f"{songs}/{name}.abc", "--format", "json")
    stories += run(f"{songs}/{name}.mid", "--tune", f"{songs}/{name}.abc").stdout
    review = json.loads(done.stdout)
    marks = {kind: sum(m["kind"] == kind for m in review["marks"]) for kind in told}
    texts = [e.text for e in mido.MidiFile(f"{songs}/{name}.mid").tracks[0] if e.type == "text"]
    truth = {"wrong": sum("wrong" in t for t in texts), "waited": sum("hesit" in t or "wait" in t for t in texts)}
    for kind in told:
        told[kind] += truth[kind]
        found[kind] += min(marks[kind], truth[kind])
    check(f"{name}: once through, whole", len(review["takes"]) == 1 and review["takes"][0]["whole"], review["takes"])
    check(f"{name}: no more than there was", all(marks[k] <= truth[k] for k in told), (marks, truth, texts))
    book = json.loads(run(f"{songs}/{name}.mid", "--songbook", songs, "--format", "json").stdout)
    check(f"{name}: found in the songbook", book["title"] == review["title"], book["title"])
    # A performance as the tune: note values, metre and bars are found first, and the tune is known from them.
    free = json.loads(run(f"{songs}/{name}.mid", "--tune", f"{songs}/{name}.mid", "--format", "json").stdout)
    check(f"{name}: freely played, then held against itself", free["takes"][0]["whole"]
          and free["takes"][0]["right"] == free["takes"][0]["notes"] and len(free["marks"]) <= 1, free["marks"])
    # What the page repeats is written out here; a slow tune may be counted in half notes.
    bars, printed = len(free["bars"]), len(review["bars"])
    if ":|" not in open(f"{songs}/{name}.abc").read():
        as_printed.append(abs(bars - printed) <= 2)
    beats = {}
    for tune in ("abc", "mid"):
        out = os.path.join(scratch.name, f"{tune}.mid")
        subprocess.run([undersong, "play", "--virtual-time", "--quiet", "--from", f"{songs}/{name}.mid", "--tune",
                        f"{songs}/{name}.{tune}", "--to", out, "--mark-beats"], check=True, timeout=60)
        beats[tune] = sum(e.type == "text" and e.text == "bar" for e in mido.MidiFile(out).tracks[0])
    check(f"{name}: play follows a performance as a tune too", beats["mid"] >= beats["abc"] / 2 - 1, beats)
check("beats are told in words", "    beat 2: " in stories and re.search(r"beat \d, (last|second) (third|half)", stories) and
      not re.search(r"beat \d+\.", stories), re.findall("    beat .*", stories))
check("most performances get the bars that are printed", as_printed and
      sum(as_printed) >= 0.8 * len(as_printed), as_printed)
check("some mistakes are told of", told["wrong"] >= 5 and told["waited"] >= 5, told)
check("nine of ten are found", all(found[k] >= 0.9 * told[k] for k in told), (found, told))

with tempfile.TemporaryDirectory() as folder:
    mid, abc = f"{songs}/{names[0]}.mid", f"{songs}/{names[0]}.abc"
    bad = os.path.join(folder, "bad.mid")
    with open(bad, "w") as file:
        file.write("nothing")
    done = run(bad, mid, "--tune", abc)
    check("a bad session is told of, the other is done", done.returncode == 2 and "bad.mid" in done.stderr
          and "once through" in done.stdout, done)
    one = os.path.join(folder, "one.mid")
    mido.MidiFile(tracks=[[mido.Message("note_on", note=60, velocity=80), mido.Message("note_off", note=60, time=99)]]).save(one)
    done = run(one)
    check("one note", done.returncode == 0 and "1 note\n" in done.stdout, done)
    scale = os.path.join(folder, "scale.mid")
    played = mido.MidiFile()
    played.tracks.append(mido.MidiTrack(mido.Message(kind, note=pitch, velocity=70, time=240)
                                        for pitch in (60, 62, 64, 65, 67, 65, 64, 62, 60) for kind in ("note_on", "note_off")))
    played.save(scale)
    done = run(scale, "--tune", abc)
    check("another tune: said so, and no notes of it are counted", "this tune was not found" in done.stdout
          and "right at the first try" not in done.stdout and "something else" in done.stdout, done)
    check("no pause is no number", "no long pause\n" in run(scale).stdout, run(scale).stdout)
    done = run(mid)
    check("no tune: said so", done.returncode == 0 and "not known" in done.stdout and "--tune" in done.stdout, done)
    for ending, start in (("svg", b"<?xml"), ("png", b"\x89PNG")):
        picture = os.path.join(folder, "review." + ending)
        done = run(mid, "--tune", abc, "--format", ending, "--to", picture)
        check(ending, done.returncode == 0 and open(picture, "rb").read(5).startswith(start[:4]), done)
        done = run(mid, "--tune", abc, "--to", picture)
        check(f"the ending {ending} says the format", open(picture, "rb").read(5).startswith(start[:4]), done)
    for words, says in ((("--tune", abc, "--songbook", songs), "give one of them"), (("--number", "2"), "--number 2"),
                        (("--to", "-"), "leave it out")):
        done = run(mid, *words)
        check(" ".join(words), done.returncode == 2 and done.stderr.count("\n") == 1 and says in done.stderr, done)
    session, tune = os.path.join(folder, "session.mid"), os.path.join(folder, "tune.abc")
    shutil.copy(mid, session)
    shutil.copy(abc, tune)
    for to, same in ((session, mid), (tune, abc)):
        done = run(session, "--tune", tune, "--to", to)
        check(f"{os.path.basename(to)} is not written over", done.returncode == 2 and "is read here" in done.stderr
              and open(to, "rb").read() == open(same, "rb").read(), done)
    done = run(mid, "--format", "png", "--to", os.path.join(folder, "x.png"))
    check("no picture without a tune", done.returncode == 2 and done.stderr.count("\n") == 1, done)
    done = run(mid, "--tune", abc, "--format", "png")
    check("a picture needs a file", done.returncode == 2 and "--to" in done.stderr, done)
    done = run(env={"XDG_DATA_HOME": folder, "PATH": os.environ["PATH"]})
    check("no sessions yet", done.returncode == 2 and "--keep" in done.stderr, done)

sys.exit(checks.status())
