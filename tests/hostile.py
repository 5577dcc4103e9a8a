#!/usr/bin/env python3
"""hostile.py PROGRAM: files that were made to do harm, and names that were chosen for it.  The program ends with a result or
with one line, and soon: the limits below are many times what it takes, and a small part of what a walk through all pairs would."""
import os, struct, subprocess, sys, tempfile
from checks import check, status
from limited import run

program = os.path.abspath(sys.argv[1])
LIMIT = 60
HEAD = "X:1\nT:t\nM:%s\nL:1/8\nK:C\n"


def write(name, data):
    with open(name, "wb") as f:
        f.write(data if isinstance(data, bytes) else data.encode())


def smf(track):
    return b"MThd" + struct.pack(">IHHH", 6, 0, 1, 96) + b"MTrk" + struct.pack(">I", len(track)) + track


def ends(what, *words, seconds=LIMIT, wanted="OK"):
    out, said, took, end = run([program, *words], seconds)
    check(what, end == wanted, (end, said[-300:]))
    return out, said


def told(what, *words, within):
    """One line, and the exit status that a wrong file has."""
    out, said = ends(what, *words, wanted="failed with status 2")
    check(what + " is told in one line", said.count("\n") == 1 and within in said, said[-300:])


def many_pairs():
    """Each of these was a walk through all pairs."""
    write("coda.abc", HEAD % "1/8" + ("C|" * 1900 + "\n") * 10 + ("O" * 4000 + "\n") * 1500 + "C|\n")
    ends("six million coda signs", "harmonize", "coda.abc")
    chords = 'X:1\nT:t\nM:1/8\nP:(A)99A\nL:1/8\nK:C\nP:A\n|:' + ('"G"' * 1300 + "\n") * 3500 + "C::::::::|\n"
    write("chords.abc", chords)
    ends("millions of chords on one note", "harmonize", "chords.abc")
    write("slurs.abc", HEAD % "2/8" + "(CD)|(EF)|(GA)|(Bc)|\n" * 4990)
    for form in "abc", "musicxml", "lilypond":
        ends("twenty thousand slurs as " + form, "harmonize", "--format", form, "--to", "out", "slurs.abc")
    for form in "text", "abc", "musicxml":
        ends("their sheet as " + form, "sheet", "--format", form, "--to", "out", "slurs.abc")


def long_session():
    """Hundreds of thousands of notes held against a tune of sixteen."""
    write("walk.abc", "X:1\nT:walk\nM:4/4\nL:1/4\nK:C\nCGDA|EBFc|GDAE|BFcG|\n")
    pitches = [60 + i * 7 % 12 for i in range(12)]
    write("long.mid", smf(b"".join(bytes([0, 0x90, p, 64, 8, 0x80, p, 64]) for p in pitches * 75000) + b"\0\xff\x2f\0"))
    ends("a session of 900,000 notes", "review", "--tune", "walk.abc", "long.mid")


def long_bars():
    """More beats in a bar than a line of text has columns for."""
    write("bar.abc", "X:1\nT:t\nM:none\nL:1/4\nK:C\n" + '"C"CDEF"F"FGAB\\\n' * 200 + "C|\n")
    for form in "text", "lilypond", "abc", "musicxml":
        ends("a bar of 1,600 quarters as " + form, "sheet", "--format", form, "--to", "out", "bar.abc")


def tracks_and_songs():
    track = b"MTrk" + struct.pack(">I", 12) + b"\0\x90\x3c\x40\x60\x80\x3c\x40\0\xff\x2f\0"
    write("tracks.mid", b"MThd" + struct.pack(">IHHH", 6, 1, 65535, 96) + track * 65535)
    ends("65,535 tracks", "harmonize", "tracks.mid")
    write("songs.abc", "".join(f"X:{i}\nK:C\n\n" for i in range(1, 300000)))
    words = "play", "--from", "walk.abc", "--to", "out.mid", "--virtual-time", "--songbook", "songs.abc"
    out, said = ends("a songbook of 300,000 empty tunes", *words, wanted="failed with status 2")
    check("is told", "more than 10000 tunes" in said and said.count("\n") == 2, said[-300:])


def attributes():
    """What the XML library compares each with each."""
    many = "".join(f' a{i}=""' for i in range(200000))
    write("attributes.musicxml", f"<score-partwise>\n<part-list{many}/></score-partwise>")
    told("200,000 attributes", "harmonize", "attributes.musicxml", within="attributes.musicxml:")


def named_pipe():
    """A pipe that nobody writes into, in a folder of tunes."""
    os.mkdir("folder")
    os.mkfifo("folder/a.abc")
    os.mkfifo("folder/b.mid")
    write("folder/c.abc", HEAD % "4/4" + "CDEF|\n")
    out, said = ends("pipes among the tunes", "harmonize", "folder", wanted="failed with status 2")
    check("are told, and the tune is done", "1 tune done, 2 failed" in said, said)
    ends("a pipe for a session", "review", "folder/b.mid", wanted="failed with status 2")


def no_control(what, *words, wanted="OK"):
    for text in ends(what, *words, wanted=wanted):
        check(what + ": nothing for the terminal to act on", not any(c < " " and c != "\n" or "\x7f" <= c < "\xa0" for c in text),
              repr(text[-300:]))
    return text


def terminal():
    """Sequences that clear a terminal, in titles, in names of files and in what is wrong with a file."""
    evil = "a\x1b[2J\n\x9b31m"
    write("title.abc", f"X:1\nT:{evil[:5]}\x9b31m\nC:{evil[:5]}\nM:4/4\nL:1/4\nK:C\nCDEF|GABc|\n")
    write(evil + ".abc", "X:1\nM:4/4\nL:1/4\nK:C\nCDEF|GABc|\n")
    write("key.abc", f"X:1\nT:t\nK:{evil[:5]}\nC|\n")
    name = evil[:5].encode()
    write(evil + ".mid", smf(b"\0\xff\x03" + bytes([len(name) + 2]) + name + b"\xc2\x9b" + b"\0\x90\x3c\x40\x60\x80\x3c\x40" * 8 +
                             b"\0\xff\x2f\0"))
    for file in "title.abc", evil + ".abc", evil + ".mid":
        for form in "text", "json", "abc", "lilypond":
            no_control(f"{file!r} as {form}", "harmonize", "--format", form, file)
        no_control(f"the sheet of {file!r}", "sheet", file)
    no_control("two harmonies", "harmonize", "--compare", "title.abc", evil + ".abc")
    no_control("a session's name", "review", "--tune", "title.abc", evil + ".mid")
    no_control("a tune that is known", "play", "--tune", "title.abc", "--from", "title.abc", "--to", "out.mid", "--virtual-time")
    for words in ("harmonize", "key.abc"), ("harmonize", evil + ".none"), ("play", "--patch", evil), (evil,):
        said = no_control(f"what is wrong with {words!r}", *words, wanted="failed with status 2")
        check(f"{words!r} in one line", said.count("\n") == 1, said)


def long_names():
    """Paths of more than a thousand letters are taken whole."""
    folder = os.path.join(*["folder-with-a-long-name-%02d" % i + "x" * 150 for i in range(8)])
    os.makedirs(folder)
    tune = os.path.join(folder, "tune.abc")
    write(tune, HEAD % "4/4" + "CDEF|\n")
    for command in "harmonize", "sheet":
        to = os.path.join(folder, command + ".abc")
        ends(command + " with long names", command, "--to", to, tune)
        check(command + " wrote where it was told", os.path.exists(to), to)
    ends("a long name among others", "harmonize", "--format", "abc", "--to", folder + "/out", tune, "slurs.abc")
    check("each has its own", os.listdir(folder + "/out") == ["tune.abc", "slurs.abc"] or
          sorted(os.listdir(folder + "/out")) == ["slurs.abc", "tune.abc"], os.listdir(folder + "/out"))


def closed_descriptors():
    """No file gets the number of a standard descriptor that was closed: what is printed would land in it."""
    write("four.abc", HEAD % "4/4" + "CDEF|\n")
    words = [program, "play", "--from", "-", "--to", "played.mid", "--keep", "kept.mid", "--key", "C", "--metre", "4/4"]
    p = subprocess.Popen(words, stdin=subprocess.PIPE, preexec_fn=lambda: (os.close(1), os.close(2)))
    for pitch in [60, 62, 64, 65, 67]:
        p.stdin.write(bytes([0x90, pitch, 80, 0x80, pitch, 64]))
    p.stdin.close()
    p.wait(LIMIT)
    kept = open("kept.mid", "rb").read()
    check("what is kept is music alone", kept.startswith(b"MThd") and b"you play" not in kept and b"undersong" not in kept, kept[:80])
    p = subprocess.run(["sh", "-c", '"$0" --version >&-', program], capture_output=True, text=True)
    check("what cannot be printed is still told", p.returncode == 1 and "standard output" in p.stderr, p)


os.environ.update(HOME="/nonexistent", XDG_DATA_HOME="", XDG_CONFIG_HOME="", PYTHONIOENCODING="utf-8")
with tempfile.TemporaryDirectory() as folder:
    os.chdir(folder)
    for case in many_pairs, long_session, long_bars, tracks_and_songs, attributes, named_pipe, terminal, long_names, closed_descriptors:
        case()
    os.chdir("/")
sys.exit(status())
