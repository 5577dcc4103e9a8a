#!/usr/bin/env python3
"""`undersong harmonize` from outside: the JSON contract, choices, simplifying, batches, errors, the MIDI file.

usage: check_harmonize.py PROGRAM FOLDER_OF_TUNES GOLDEN
The reader of the JSON is Python's; MIDI files are read by mido.
"""
import json
import os
import shutil
import subprocess
import sys
import tempfile
import unittest
import zipfile

import mido

PROGRAM, TUNES, GOLDEN = sys.argv[1:4]
LAMP = os.path.join(TUNES, "lamp.abc")
KINDS = {"maj": {0, 4, 7}, "min": {0, 3, 7}, "dim": {0, 3, 6}, "dom7": {0, 4, 7, 10}, "min7": {0, 3, 7, 10}}


os.environ["XDG_DATA_HOME"] = "/nonexistent"  # nothing learned on this machine shows here


def run(*words):
    return subprocess.run([PROGRAM, "harmonize", *words], capture_output=True, text=True, timeout=60)


def harmony(*words):
    done = run("--format", "json", *words)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def at(data, when):
    return next(c for c in data["chords"] if c["at"] <= when < c["at"] + c["len"])


class Contract(unittest.TestCase):
    def check_chord(self, chord, alternative=False):
        self.assertIn(chord["root"], range(12))
        self.assertIn(chord["kind"], KINDS)
        self.assertNotIn("7", chord["degree"])
        self.assertGreater(len(chord["because"]), 10)
        if alternative:
            self.assertTrue(0 <= chord["probability"] <= 1)
        else:
            self.assertGreater(chord["len"], 0)
            tones = {(chord["root"] + t) % 12 for t in KINDS[chord["kind"]]}
            self.assertTrue(chord["notes"] and {n % 12 for n in chord["notes"]} <= tones)
            for other in chord["alternatives"]:
                self.check_chord(other, True)
                self.assertNotEqual((other["root"], other["kind"]), (chord["root"], chord["kind"]))

    def test_rest_before_the_pickup(self):
        """A rest before the first note is none of the pickup in words; times are from the start of the file."""
        with tempfile.TemporaryDirectory() as folder:
            path = os.path.join(folder, "rest.abc")
            for rest, words in (("z D|", "pickup of a quarter note"), ("z4|", "4/4.")):
                with open(path, "w") as out:
                    out.write("X:1\nT:t\nM:4/4\nL:1/4\nK:G\n" + rest + "G2 A B|c2 B A|G4|]\n")
                self.assertIn(words, run(path).stdout.splitlines()[1])
                self.assertEqual(harmony(path)["pickup"], 2 if "D" in rest else 0)

    def test_keys_that_are_heard(self):
        """A tune that goes on in another key, from a file that names none: in the words, and on the page."""
        tune = [(0, 1), (4, 1), (7, 1), (4, 1), (5, 1), (9, 1), (7, 2), (7, 1), (5, 1), (4, 1), (2, 1), (0, 2), (2, 2),
                (4, 1), (5, 1), (7, 1), (9, 1), (11, 1), (9, 1), (7, 2), (5, 1), (4, 1), (2, 1), (7, 1), (0, 4)]
        track = b"\0\xff\x58\x04\x04\x02\x18\x08"
        for home in (67, 70):
            for step, quarters in tune:
                track += bytes((0, 0x90, home + step, 80, 0x80 + (quarters * 96 >> 7), quarters * 96 & 127, 0x80, home + step, 0))
        track += b"\0\xff\x2f\0"
        with tempfile.TemporaryDirectory() as folder:
            path = os.path.join(folder, "two.mid")
            with open(path, "wb") as out:
                out.write(b"MThd\0\0\0\6\0\0\0\1\0\x60MTrk" + len(track).to_bytes(4, "big") + track)
            lines = run(path).stdout.splitlines()
            self.assertEqual(lines[1].split(".")[0], "G major, 4/4")
            self.assertIn("I = G, IV = C, V = D", lines[1])
            self.assertIn("--- now in Bb major", lines)
            page = run("--format", "abc", path).stdout
            self.assertIn("\nK:G\n", page)
            self.assertIn('[K:Bb]"Bb"B2', page)
            self.assertIn("\\key bes \\major", run("--format", "lilypond", path).stdout)

    def test_fields(self):
        for words in ([], ["--afresh"], ["--afresh", "--chords", "wide"], ["--afresh", "--change", "bar"],
                      ["--texture", "fifths"], ["--key", "Em", "--afresh"]):
            data = harmony(*words, LAMP)
            self.assertEqual(data["metre"], "3/4")
            self.assertEqual(data["pickup"], 1)
            self.assertEqual(data["key"], {"tonic": 4, "mode": "minor", "scale": "minor"} if "Em" in words else
                             {"tonic": 7, "mode": "major", "scale": "major"})
            end = 0
            for chord in data["chords"]:
                self.assertAlmostEqual(chord["at"], end)
                end = chord["at"] + chord["len"]
                self.check_chord(chord)
            self.assertAlmostEqual(end, 24)

    def test_options_win(self):
        data = harmony("--metre", "4/4", "--pickup", "0", "--key", "D dorian", LAMP)
        self.assertEqual((data["metre"], data["pickup"]), ("4/4", 0))
        self.assertEqual(data["key"], {"tonic": 2, "mode": "minor", "scale": "dorian"})

    def test_a_pickup_is_less_than_a_bar(self):
        self.assertEqual(harmony("--pickup", "4", LAMP), harmony("--pickup", "1", LAMP))
        self.assertEqual(harmony("--pickup", "3", LAMP), harmony("--pickup", "0", LAMP))
        self.assertEqual(run("--pickup", "10", LAMP).stdout, run("--pickup", "1", LAMP).stdout)

    def test_written_chords_win(self):
        data = harmony(LAMP)
        self.assertEqual([at(data, t)["kind"] for t in (4, 7, 16)], ["dom7", "min", "min"])
        self.assertTrue(all(c["given"] and "written" in c["because"] for c in data["chords"]))
        self.assertFalse(any(c["given"] for c in harmony("--afresh", LAMP)["chords"]))

    def test_simplify(self):
        data = harmony("--simplify", LAMP)
        self.assertEqual([(at(data, t)["degree"], at(data, t)["root"]) for t in (0, 4, 7, 16, 20)],
                         [("I", 7), ("V", 2), ("I", 7), ("IV", 0), ("V", 2)])
        self.assertIn("Am", at(data, 16)["because"])

    def test_choose(self):
        free = harmony("--afresh", LAMP)
        chosen = harmony("--afresh", "--choose", "2.1=IV", "--choose", "5=V", LAMP)
        self.assertNotEqual(at(free, 4)["degree"], "IV")
        self.assertEqual((at(chosen, 4)["degree"], at(chosen, 4)["root"]), ("IV", 0))
        self.assertEqual(at(chosen, 13)["degree"], "V")
        self.assertIn("you chose it", at(chosen, 4)["because"])
        self.assertFalse(at(chosen, 22)["given"])

    def test_beats_in_words(self):
        """In a pickup of a beat and a half the second beat begins at 1\u00bd: so it is written, and so it may be chosen."""
        with tempfile.TemporaryDirectory() as folder:
            path = os.path.join(folder, "half.abc")
            with open(path, "w") as out:
                out.write("X:1\nT:Half\nM:4/4\nL:1/8\nK:C\nG2G|c2c2d2d2|e4c4|c8|]\n")
            signs, figures = (run("--choose", words, path).stdout for words in ("0.1\u00bd=V", "0.1.5=V"))
            self.assertRegex(signs, "\n  +1\u00bd  .*you chose it")
            self.assertEqual(signs, figures)

    def test_odd_titles(self):
        with tempfile.TemporaryDirectory() as folder:
            path = os.path.join(folder, "odd.abc")
            with open(path, "wb") as out:
                out.write(b'X:1\nT:"Q" \\ \xff \xc3\xa9\tx\nM:4/4\nL:1/4\nK:C\nCEGE|C4|]\n')
            self.assertTrue(harmony(path)["title"])


class Errors(unittest.TestCase):
    def refuse(self, *words, says):
        done = run(*words)
        self.assertEqual(done.returncode, 2, done.stderr)
        self.assertEqual(done.stderr.count("\n"), 1, done.stderr)
        self.assertTrue(done.stderr.startswith("undersong: "), done.stderr)
        self.assertIn(says, done.stderr)

    def test_one_line_each(self):
        with tempfile.TemporaryDirectory() as folder:
            self.refuse(folder, says="no tunes in this folder")
            broken = os.path.join(folder, "cut.mid")
            with open(broken, "wb") as out:
                out.write(b"MThd\0\0\0\6\0\0\0\1\0\x60MTrk\0\0\1\0\0\x90")
            self.refuse(broken, says="cut.mid")
        self.refuse(says="no tune named")
        self.refuse("nowhere.abc", says="nowhere.abc")
        self.refuse("--choose", "2.1", LAMP, says="BAR.BEAT=CHORD")
        self.refuse("--choose", "2.1=Q", LAMP, says="no such chord")
        self.refuse("--choose", "99=I", LAMP, says="no such beat")
        self.refuse("--choose", "2.9=I", LAMP, says="no such beat")
        self.refuse("--choose", "0.2=I", LAMP, says="no such beat")  # the pickup is one beat long
        self.refuse("--key", "H", LAMP, says="no such key")
        self.refuse("--format", "midi", LAMP, LAMP, says="give --to FOLDER")
        self.refuse("--format", "midi", "--to", LAMP, LAMP, LAMP, says="give a folder")
        self.refuse("--format", "midi", "--to", "/no/such/place", LAMP, LAMP, says="cannot be made")
        self.refuse("--to", "-", LAMP, says="leave it out")
        self.refuse("--compare", "--to", "/dev/null", LAMP, LAMP, says="leave out --to")


class Batch(unittest.TestCase):
    def test_one_bad_file_and_the_others_done(self):
        with tempfile.TemporaryDirectory() as folder:
            for name in ("a.abc", "b.abc", "d.abc"):
                shutil.copy(LAMP, os.path.join(folder, name))
            with open(os.path.join(folder, "c.mid"), "wb") as out:
                out.write(b"MThd and no more")
            done = run("--format", "json", folder)
            self.assertEqual(done.returncode, 2)
            self.assertEqual(len(json.loads(done.stdout)), 3)
            self.assertIn("c.mid:", done.stderr)
            self.assertIn("3 tunes done, 1 failed", done.stderr)
            out = os.path.join(folder, "out")
            for there in (False, True):  # made where it is missing
                self.assertEqual(os.path.isdir(out), there)
                run("--format", "midi", "--to", out, folder)
                self.assertEqual(sorted(os.listdir(out)), ["a.mid", "b.mid", "d.mid"])

    def test_no_tune_writes_over_another(self):
        with tempfile.TemporaryDirectory() as folder:
            songs, more, out = (os.path.join(folder, name) for name in ("songs", "more", "out"))
            for name in (songs, more):
                os.mkdir(name)
                shutil.copy(LAMP, os.path.join(name, "lamp.abc"))
            run("--format", "midi", "--to", os.path.join(songs, "lamp.mid"), LAMP)
            for command in ("harmonize", "sheet"):
                done = subprocess.run([PROGRAM, command, "--to", out, songs, more], capture_output=True, text=True, timeout=60)
                self.assertEqual(sorted(os.listdir(out)), ["lamp.mid.txt", "lamp.txt"])
                self.assertEqual(done.returncode, 2)
                self.assertIn("more/lamp.abc: a file of that name", done.stderr)
                shutil.rmtree(out)

    def test_no_tune_is_written_over(self):
        with tempfile.TemporaryDirectory() as folder:
            songs, link = os.path.join(folder, "songs"), os.path.join(folder, "link.abc")
            os.mkdir(songs)
            song = os.path.join(songs, "lamp.abc")
            shutil.copy(LAMP, song)
            os.symlink(song, link)
            for command in ("harmonize", "sheet"):
                for to in (song, link, songs):
                    done = subprocess.run([PROGRAM, command, "--format", "abc", "--to", to, song], capture_output=True, text=True,
                                          timeout=60)
                    self.assertEqual(done.returncode, 2)
                    self.assertIn(": is read here", done.stderr)
                    with open(song) as now, open(LAMP) as before:
                        self.assertEqual(now.read(), before.read())

    def test_progress_bar_on_a_terminal_only(self):
        master, slave = os.openpty()
        with tempfile.TemporaryFile() as out:
            done = subprocess.run([PROGRAM, "harmonize", LAMP, LAMP, LAMP], stdout=out, stderr=slave, timeout=60)
        os.close(slave)
        shown = os.read(master, 65536).decode()
        os.close(master)
        self.assertEqual(done.returncode, 0)
        for part in ("1 of 3", "2 of 3", "3 of 3", "#" * 40, "3 tunes done, 0 failed"):
            self.assertIn(part, shown)
        self.assertNotIn("of 3", run(LAMP, LAMP, LAMP).stderr)

    def test_alone_and_in_a_batch_the_same(self):
        together = json.loads(run("--format", "json", LAMP, LAMP).stdout)
        self.assertEqual(together, [harmony(LAMP)] * 2)


class Midi(unittest.TestCase):
    def test_read_back(self):
        with tempfile.TemporaryDirectory() as folder:
            for texture in ("block", "waltz", "root-run", "drone"):
                path = os.path.join(folder, texture + ".mid")
                done = run("--format", "midi", "--texture", texture, "--sound-in", "D", "--to", path, LAMP)
                self.assertEqual(done.returncode, 0, done.stderr)
                self.check_file(mido.MidiFile(path))

    def check_file(self, file):
        down, struck, melody, now = {}, set(), [], 0
        for message in mido.merge_tracks(file.tracks):
            now += message.time
            if message.type == "note_on" and message.velocity:
                down[message.channel, message.note] = now
                if message.channel == 0:
                    melody.append((now / file.ticks_per_beat, message.note))
                else:
                    struck.add(now / file.ticks_per_beat)
            elif message.type in ("note_on", "note_off"):
                down.pop((message.channel, message.note))
        self.assertFalse(down)
        self.assertEqual(melody[:4], [(0, 57), (1, 62), (3, 66), (4, 64)])
        self.assertTrue({1, 4, 7, 10, 13, 16, 19, 22} <= struck)


class Notation(unittest.TestCase):
    def test_abc_read_again(self):
        self.check_again("abc", ".abc")

    def test_musicxml_read_again(self):
        self.check_again("musicxml", ".musicxml")

    def test_the_ending_says_the_format(self):
        with tempfile.TemporaryDirectory() as folder:
            for ending, start in ((".mxl", b"PK"), (".musicxml", b"<?xml"), (".mid", b"MThd"), (".ly", b"\\version"),
                                  (".abc", b"X:"), (".json", b"{"), (".xml", b"<?xml"), (".midi", b"MThd")):
                path = os.path.join(folder, "out" + ending)
                self.assertEqual(run("--to", path, LAMP).returncode, 0)
                self.assertTrue(open(path, "rb").read(20).startswith(start), ending)
            scores = zipfile.ZipFile(os.path.join(folder, "out.mxl"))
            self.assertEqual(scores.namelist(), ["META-INF/container.xml", "score.musicxml"])
            self.assertEqual(scores.read("score.musicxml"), open(os.path.join(folder, "out.musicxml"), "rb").read())
            self.assertEqual(harmony(os.path.join(folder, "out.mxl"))["chords"], harmony(os.path.join(folder, "out.abc"))["chords"])

    def check_again(self, form, ending):
        with tempfile.TemporaryDirectory() as folder:
            path = os.path.join(folder, "out" + ending)
            self.assertEqual(run("--afresh", "--format", form, "--to", path, LAMP).returncode, 0)
            ours, again = harmony("--afresh", LAMP), harmony(path)
            self.assertEqual([(c["at"], c["root"]) for c in ours["chords"]], [(c["at"], c["root"]) for c in again["chords"]])
            self.assertTrue(all(c["given"] for c in again["chords"]))
            self.assertEqual((again["metre"], again["pickup"], again["key"]), ("3/4", 1, ours["key"]))

    def test_lilypond_has_the_chords(self):
        source = run("--format", "lilypond", "--sound-in", "Bb", LAMP).stdout
        self.assertIn("\\key bes \\major", source)
        self.assertIn("\\time 3/4", source)


class Compare(unittest.TestCase):
    def compare(self, *words):
        return json.loads(run("--compare", "--format", "json", *words).stdout)

    def test_with_itself_and_simplified(self):
        self.assertEqual(self.compare(LAMP, LAMP)["differences"], [])
        with tempfile.TemporaryDirectory() as folder:
            path = os.path.join(folder, "simple.abc")
            run("--simplify", "--format", "abc", "--to", path, LAMP)
            data = self.compare(LAMP, path)
            self.assertEqual((data["beats"], data["same"], data["same_role"]), (24, 18, 24))
            self.assertEqual([(d["bar"], d["first"]["degree"], d["second"]["degree"]) for d in data["differences"]],
                             [(3, "vi", "I")] * 3 + [(6, "ii", "IV")] * 3)

    def test_text(self):
        text = run("--compare", LAMP, LAMP).stdout
        self.assertIn("no difference", text)
        self.assertIn("the same chord on 24 of 24 beats (100 %)", text)


class Learning(unittest.TestCase):
    """A folder where bars of step 5 bear IV, against all custom: what it teaches is used, and can be left aside."""

    def run_in(self, data, *words):
        return subprocess.run([PROGRAM, "harmonize", *words], capture_output=True, text=True, timeout=300,
                              env={**os.environ, "XDG_DATA_HOME": data})

    def test_own_habits(self):
        with tempfile.TemporaryDirectory() as folder:
            data = os.path.join(folder, "data")
            school = os.path.join(folder, "school")
            os.mkdir(school)
            for n in range(24):
                bars = ['"C"C2E2', '"F"G4', '"C"E2C2', '"F"G2G2'] * 4
                with open(os.path.join(school, f"{n:02}.abc"), "w") as out:
                    out.write(f"X:1\nT:{n}\nM:4/4\nL:1/4\nK:C\n" + "|".join(bars[n % 3:] + ['"C"C4']) + "|]\n")
            with open(os.path.join(school, "plain.abc"), "w") as out:
                out.write("X:1\nT:plain\nM:4/4\nL:1/4\nK:C\nCEGE|C4|]\n")
            exam = os.path.join(folder, "exam.abc")
            with open(exam, "w") as out:
                out.write("X:1\nT:exam\nM:4/4\nL:1/4\nK:C\nC2E2|G4|E2C2|G2G2|C2E2|G4|C4|]\n")
            before = self.run_in(data, "--format", "json", exam).stdout
            self.assertNotIn('"degree":"IV","root":5,"kind":"maj","notes"', before)
            learned = self.run_in(data, "--learn-from", school)
            self.assertEqual(learned.returncode, 0, learned.stderr)
            self.assertIn("learned from 24 tunes", learned.stdout)
            self.assertIn("1 tune without chords", learned.stdout)
            self.assertNotIn("0 file", learned.stdout)
            after = self.run_in(data, "--format", "json", exam).stdout
            probability = [[next(a["probability"] for a in [c, *c["alternatives"]] if a["degree"] == "IV")
                            for c in json.loads(text)["chords"] if c["at"] <= 4 < c["at"] + c["len"]][0]
                           for text in (before, after)]
            self.assertGreater(probability[1], 2 * probability[0])
            self.assertEqual(self.run_in(data, "--built-in", "--format", "json", exam).stdout, before)
            self.assertNotEqual(self.played(data, exam), self.played(data, exam, "--built-in"))
            self.assertEqual(self.played(folder, exam), self.played(data, exam, "--built-in"))

    def played(self, data, tune, *words):
        out = os.path.join(data, "played.mid")
        subprocess.run([PROGRAM, "play", "--from", tune, "--to", out, "--virtual-time", "--quiet", *words], check=True,
                       env={**os.environ, "XDG_DATA_HOME": data})
        with open(out, "rb") as file:
            return file.read()

    def test_refusals(self):
        with tempfile.TemporaryDirectory() as folder:
            os.makedirs(os.path.join(folder, "undersong"))
            with open(os.path.join(folder, "undersong", "harmony.tables"), "w") as out:
                out.write("nonsense\n")
            broken = self.run_in(folder, LAMP)
            self.assertEqual((broken.returncode, broken.stderr.count("\n")), (2, 1), broken.stderr)
            self.assertIn("harmony.tables", broken.stderr)
            empty = os.path.join(folder, "empty")
            os.mkdir(empty)
            self.assertEqual(self.run_in(folder, "--learn-from", empty).returncode, 2)
            shutil.copy(LAMP, empty)
            nowhere = self.run_in("/proc/nowhere", "--learn-from", empty)
            self.assertEqual((nowhere.returncode, nowhere.stderr.count("\n")), (1, 1), nowhere.stderr)
            self.assertIn("/proc/nowhere", nowhere.stderr)
            self.assertIn("set XDG_DATA_HOME", nowhere.stderr)

    def test_no_room_for_what_is_printed(self):
        with tempfile.TemporaryDirectory() as data, open("/dev/full", "w") as full:
            shutil.copy(LAMP, data)
            for words in (["--compare", LAMP], ["--compare", "--format", "json", LAMP], ["--learn-from", data]):
                done = subprocess.run([PROGRAM, "harmonize", *words], stdout=full, stderr=subprocess.PIPE, text=True,
                                      env={**os.environ, "XDG_DATA_HOME": data}, timeout=300)
                self.assertEqual(done.returncode, 1, words)
                self.assertIn("standard output", done.stderr)


class Golden(unittest.TestCase):
    def test_text_sheets(self):
        for name, words in (("lamp", []), ("lamp-simple", ["--simplify", "--syllables", "la"])):
            with open(os.path.join(GOLDEN, f"harmonize-{name}.txt")) as wanted:
                self.assertEqual(run(*words, LAMP).stdout, wanted.read(), name)


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1])
