#!/usr/bin/env python3
"""Second voices, drills and other sounding keys through the whole program: voices_outside.py PROGRAM DEMOS.

The MIDI files are read by python3-mido; the duet is held against the second voice that is written in the demo tune for
two, played by abc2midi."""
import os
import re
import subprocess
import sys
import tempfile

import mido

from checks import check, status

program, demos = sys.argv[1:]


def play(name, target, *words):
    path = os.path.join(demos, name + ".mid")
    r = subprocess.run([program, "play", "--from", path, "--to", target, "--virtual-time", *words],
                       capture_output=True, text=True)
    check(f"{name} {' '.join(words)}: exit {r.returncode} {r.stderr}", r.returncode == 0)
    return r.stdout


def voices(path):
    """Onsets in seconds and pitches, a list a channel."""
    out, now = {}, 0.0
    for message in mido.MidiFile(path):
        now += message.time
        if message.type == "note_on" and message.velocity:
            out.setdefault(message.channel, []).append((now, message.note))
    return out


def written_voices(abc, folder):
    path, bare = os.path.join(folder, "written.mid"), os.path.join(folder, "bare.abc")
    text = open(abc).read()
    open(bare, "w").write(re.sub(r'"[^"]*"', "", text))  # without chord symbols, which abc2midi would play
    subprocess.run(["abc2midi", bare, "-o", path], capture_output=True, check=True)
    by_track = [[m.note for m in track if m.type == "note_on" and m.velocity] for track in mido.MidiFile(path).tracks]
    return [t for t in by_track if t]


def pitches(voice):
    return [p for _, p in voice]


def check_duet(folder):
    out = os.path.join(folder, "duet.mid")
    abc = os.path.join(demos, "ferry-for-two.abc")
    play("ferry-for-two", out, "--second-voice", "third", "--tune", abc)
    heard = voices(out)
    melody, second = heard[0], heard[2]
    check("a second voice to nearly every note", len(second) >= 0.95 * len(melody))
    above = dict((round(t, 2), p) for t, p in melody)
    check("the duet starts with its melody notes", all(round(t, 2) in above for t, _ in second))
    check("and lies below them", all(3 <= above[round(t, 2)] - p <= 9 for t, p in second))
    first, written = written_voices(abc, folder)[:2]
    check("two written voices", len(first) == len(written))
    wanted = {}
    for top, under in zip(first, written):
        wanted.setdefault(top % 12, set()).add(under % 12)
    agree = sum(p % 12 in wanted[above[round(t, 2)] % 12] for t, p in second)
    check(f"{agree} of {len(second)} as the teacher wrote under that note", agree >= 0.7 * len(second))


def check_round(folder):
    out = os.path.join(folder, "round.mid")
    abc = os.path.join(demos, "four-boats.abc")
    words = play("four-boats", out, "--second-voice", "round:auto", "--tune", abc)
    check("four boats enter after four bars", "4 bars after you" in words)
    heard = voices(out)
    answer, tune = pitches(heard[2]), pitches(heard[0])
    check(f"the answer {answer} is the whole tune", answer == tune)
    check("and ends four bars after it", 6 < heard[2][-1][0] - heard[0][-1][0] < 14)
    words = play("late-crossing", out, "--second-voice", "round:auto", "--tune",
                 os.path.join(demos, "late-crossing.abc"))
    check("a tune that is no round is told so", "makes no round" in words)
    check("and stays alone", 2 not in voices(out))


def check_keys(folder):
    plain, moved = os.path.join(folder, "plain.mid"), os.path.join(folder, "moved.mid")
    play("four-boats", plain, "--key", "F")
    for words, shift in ((("--key", "F", "--sound-in", "G"), 2), (("--key", "F", "--sound-in", "C"), -5),
                         (("--key", "F", "--keyboard-transpose", "3"), 3)):
        play("four-boats", moved, *words)
        a, b = voices(plain), voices(moved)
        for channel in (0, 1):
            check(f"{words} moves channel {channel + 1} by {shift}",
                  [(round(t, 3), p + shift) for t, p in a[channel]] == [(round(t, 3), p) for t, p in b[channel]])
    words = play("four-boats", moved, "--key", "F", "--keyboard-transpose", "3")
    check("what sounds elsewhere is told", "everything sounds 3 half steps higher than you play it" in words)
    struck = [l for l in words.splitlines() if " I    F " in l]
    check(f"notes are named as they are played, like the chord {struck[:1]}",
          struck and all(set(re.findall(r"[A-G][b#]?(?=[0-9])", l.split(" I    F ")[1])) <= {"F", "A", "C"} for l in struck))
    key = next(m.key for m in mido.MidiFile(moved) if m.type == "key_signature")
    check(f"the file says the key that sounds: {key}", key == "Ab")
    words = play("two-bells", moved, "--drill", "C,G")
    check("the drill says where to begin and what comes next",
          "first in C major" in words and "now in G major, then in C major" in words)


def check_loop(folder):
    """Phrase 2 of a tune with a pickup, three times in G: counted, told, and the left hand goes round with it."""
    out, source = os.path.join(folder, "loop.mid"), os.path.join(folder, "source.mid")
    abc = os.path.join(demos, "breakwater-lamp.abc")
    notes = [(69, 1), (74, 2), (78, 1), (83, 2), (79, 1), (76, 5)]  # the second line and its pickup, in D
    track = mido.MidiTrack()
    for pitch, quarters in notes * 3:
        track.append(mido.Message("note_on", note=pitch + 5, velocity=70, time=24))
        track.append(mido.Message("note_off", note=pitch + 5, time=480 * quarters - 24))
    mido.MidiFile(tracks=[track], ticks_per_beat=480).save(source)
    words = subprocess.run([program, "play", "--from", source, "--to", out, "--virtual-time", "--tune", abc,
                            "--phrase", "2", "--texture", "block"], capture_output=True, text=True).stdout
    check(f"the loop is announced and counted {words}", "phrase 2 of 4, bars 4" in words
          and "phrase 2, time 1: clean; once more" in words and "time 3: clean again; now phrase 3" in words)
    chords = {}
    for at, pitch in voices(out)[1]:
        chords.setdefault(round(at, 2), set()).add(pitch % 12)
    heard = [frozenset(chord) for chord in chords.values()]
    wanted = [{7, 11, 2}, {0, 4, 7}, {2, 6, 9, 0}]  # bars of D, G and A7, a fourth up
    check(f"three times the chords of the phrase {heard}", all(heard.count(frozenset(w)) >= 3 for w in wanted))


def check_songbook(folder):
    """A tune of the songbook is named while it is played; a strange one is not."""
    out = os.path.join(folder, "book.mid")
    words = play("sail-loft", out, "--songbook", demos)
    check("the tune is named", "this is Up in the Sail Loft: its own chords come" in words)
    before = words.split("this is")[0].splitlines()
    notes = [l for l in before if re.search(r"[A-G][b#]?[0-9] +[#b]?[1-7] ", l)]
    check(f"within eight notes {len(notes)}", 3 <= len(notes) <= 8)


def check_refusals(folder):
    out = os.path.join(folder, "x.mid")
    for words in (("--second-voice", "fifth"), ("--second-voice", "round:0"), ("--share", "101"), ("--drill", "C,H"), ("--phrase", "1"),
                  ("--phrase", "5", "--tune", os.path.join(demos, "four-boats.abc")),
                  ("--phrase", "3-2", "--tune", os.path.join(demos, "four-boats.abc")),
                  ("--keyboard-transpose", "x"), ("--sound-in", "Em", "--key", "C"), ("--sound-in", "D", "--keyboard-transpose", "3")):
        path = os.path.join(demos, "four-boats.mid")
        r = subprocess.run([program, "play", "--from", path, "--to", out, "--virtual-time", *words],
                           capture_output=True, text=True)
        check(f"{words}: exit {r.returncode} {r.stderr!r}",
              r.returncode == 2 and r.stderr.count("\n") == 1 and words[0] in r.stderr)


with tempfile.TemporaryDirectory() as folder:
    check_duet(folder)
    check_round(folder)
    check_keys(folder)
    check_songbook(folder)
    check_loop(folder)
    check_refusals(folder)
sys.exit(status())
