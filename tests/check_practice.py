#!/usr/bin/env python3
"""Chords that every keyboard teacher would put (common practice, no source), asked of `undersong harmonize`.

usage: check_practice.py PROGRAM
"""
import json
import os
import subprocess
import sys
import tempfile
import unittest

PROGRAM = sys.argv[1]


def harmony(music, *words, key="C", metre="4/4", length="1/4"):
    with tempfile.TemporaryDirectory() as folder:
        path = os.path.join(folder, "tune.abc")
        with open(path, "w") as out:
            out.write(f"X:1\nT:practice\nM:{metre}\nL:{length}\nK:{key}\n{music}\n")
        done = subprocess.run([PROGRAM, "harmonize", "--format", "json", *words, path], capture_output=True, text=True)
        assert done.returncode == 0, done.stderr
        return json.loads(done.stdout)


def bars(data, count, bar=4):
    """The degree at each bar line."""
    return [next(c for c in data["chords"] if c["at"] <= i * bar < c["at"] + c["len"])["degree"].upper()
            for i in range(count)]


class Practice(unittest.TestCase):
    def test_scale_up_a_note_a_bar(self):
        """6 takes IV, 7 takes V, 1 and 3 take I, 2 V, 4 IV (or V7), 5 I or V."""
        got = bars(harmony("C4|D4|E4|F4|G4|A4|B4|c4|]"), 8)
        allowed = ["I", "V", "I", ("IV", "V"), ("I", "V"), "IV", "V", "I"]
        for step, (chord, wanted) in enumerate(zip(got, allowed), 1):
            self.assertIn(chord, wanted if isinstance(wanted, tuple) else (wanted,), f"step {step} of {got}")

    def test_run_down_keeps_i(self):
        """Going down by step through 7 and 6 the I chord may simply be kept."""
        got = bars(harmony("c2 B A|G4|E2 D2|C4|]", "--change", "bar"), 4)
        self.assertEqual((got[0], got[3]), ("I", "I"))
        self.assertEqual(bars(harmony("c B A G|F E D C|E2 G2|C4|]", "--change", "bar"), 1), ["I"])

    def test_starts_and_ends_at_home(self):
        for music in ("C2 E2|G2 F2|E2 D2|C4|]", "G2 E2|F2 D2|E2 B,2|C4|]", "E2 F2|G2 A2|G2 B2|c4|]"):
            got = bars(harmony(music, "--change", "bar"), 4)
            self.assertEqual((got[0], got[-1]), ("I", "I"), music)

    def test_note_of_both_between_two_i(self):
        """Step 5 between two bars of I: I or V, and the other one is told of."""
        data = harmony("C2 E2|G4|E2 C2|C4|]", "--change", "bar")
        chords = {c["degree"] for c in data["chords"] if c["at"] < 8}
        self.assertTrue(chords <= {"I", "V"}, chords)
        told = [a["degree"] for c in data["chords"] for a in c["alternatives"]] + sorted(chords)
        self.assertTrue({"I", "V"} <= set(told))

    def test_one_and_five_can_be_played_with_i_alone(self):
        data = harmony("C2 G2|C D E F|G2 C2|C4|]", "--chords", "I")
        self.assertEqual({c["degree"] for c in data["chords"]}, {"I"})

    def test_ends_with_v_to_i(self):
        got = bars(harmony("E2 G2|F2 A2|G2 B,2|C4|]", "--change", "bar"), 4)
        self.assertEqual(got[-2:], ["V", "I"])

    def test_minor_has_a_major_v(self):
        data = harmony("A2 c2|d2 f2|^G2 B2|A4|]", "--change", "bar", key="Am")
        self.assertEqual([(c["root"], c["kind"][:3]) for c in data["chords"]][:1], [(9, "min")])
        v = next(c for c in data["chords"] if c["at"] <= 8 < c["at"] + c["len"])
        self.assertEqual((v["root"], v["kind"] in ("maj", "dom7")), (4, True))

    def test_the_same_in_every_key(self):
        """Moved into another key, the same degrees."""
        tune = [0, 4, 7, 9, 7, 5, 4, 2, 0]
        names = "=C ^C =D ^D =E =F ^F =G ^G =A ^A =B".split()
        marks = {4: ",", 5: "", 6: "'"}
        wanted = None
        for shift in range(-5, 7):
            pitches = [60 + p + shift for p in tune]
            music = " ".join(names[p % 12] + marks[p // 12] + ("2" if i % 2 == 0 else "")
                             for i, p in enumerate(pitches))
            tonic = "C Db D Eb E F Gb G Ab A Bb B".split()[shift % 12]
            data = harmony(music, "--key", tonic, "--metre", "3/4", metre="none")
            got = [(c["at"], c["len"], c["degree"], c["because"]) for c in data["chords"]]
            wanted = wanted or got
            self.assertEqual(got, wanted, tonic)


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1])
