#!/usr/bin/env python3
"""faults.py PROGRAM CLOCK_JUMPS [CASE...]: what goes wrong around the program while somebody plays.  Each case looks at what the
user is told, at what is kept, and at the silence at the end.  Kept files are read with python3-mido.

    fault                    looked at in                  told                            kept
    input lost               input_lost; tests/vm          the port's name, lost and back  everything
    output lost              output_lost; tests/vm         the port's name, lost and back  everything
    sound server lost        tests/rig/jack.sh, pulse.sh   lost, and found again           everything
    no room on the disk      no_disk_at_all                once, with the file's name      nothing, no half file
    disk full while playing  disk_full                     then and at the end, its name   what came before, valid
    ... for other files      disk_full_for_files           once, with the file's name      what was there before
    read-only home           homes                         once: not kept, and --keep      nothing, no half file
    no home                  homes                         once: not kept, and --keep      nothing, no half file
    two instances            two_at_once                   nothing                         a session each
    clock jumps              clock_jumps_about             nothing                         everything, in played time
    suspended for 10 s       suspended                     nothing                         everything
    ... a file that plays    suspended_file                nothing; it goes on there       everything, as in virtual time
    nobody reads its words   nobody_listens_to_words       - (nobody reads)                everything
    broken patch             broken_patch                  file, line, what to write       - (does not begin)
    broken tune in a book    broken_songbook               each broken file's name         everything
    ... too many in a book   full_songbook                 once: all after the first 1024  everything
    10,000 events at once    flood                         how many were not sent or kept  the others, each with its end
    closed terminal          terminal_closed               - (nobody looks)                everything

The ends by signals and by closed pipes are in play_live.py."""
import os, pty, re, resource, select, signal, subprocess, sys, tempfile, termios, time
import mido
from listening import heard_until, parse, silent_end, still_down, strikes

program, clock_jumps, *chosen = sys.argv[1:]
program, clock_jumps = map(os.path.abspath, (program, clock_jumps))
bad = 0
TUNE = [60, 64, 67, 64, 65, 62, 59, 60]


def check(what, good, more=""):
    global bad
    if not good:
        bad += 1
        print("FAILED:", what, more, flush=True)


class Player:
    """The program on bytes, with a thread's worth of reading left to the operating system's pipes."""

    def __init__(self, home, *words, env=None, quiet=True, **more):
        env = dict(os.environ, XDG_DATA_HOME=home, XDG_CONFIG_HOME=home, HOME=home) if env is None else env
        words = ["--from", "-", "--to", "-", "--key", "C", "--metre", "4/4"] + ["--quiet"] * quiet + list(words)
        self.p = subprocess.Popen([program, "play", *words], env=env, stdin=subprocess.PIPE, stdout=subprocess.PIPE,
                                  stderr=subprocess.PIPE, bufsize=0, **more)

    def play(self, notes=TUNE, gap=0.04):
        for note in notes:
            self.p.stdin.write(bytes([0x90, note, 90]))
            time.sleep(gap)
            self.p.stdin.write(bytes([0x80, note, 64]))

    def heard(self, seconds):
        """What comes within so many seconds."""
        return parse(heard_until(self.p.stdout, lambda messages: False, seconds))

    def end(self):
        """Exit status, what was heard and what was said."""
        out, said = self.p.communicate(timeout=30)
        return self.p.returncode, parse(out), said.decode(errors="replace")


def melody(messages):
    return strikes(messages, 0)


def kept_melody(path):
    return melody(mido.MidiFile(path))


def sessions(home):
    folder = os.path.join(home, "undersong", "sessions")
    return sorted(os.path.join(folder, f) for f in os.listdir(folder)) if os.path.isdir(folder) else []


def limited(size):
    return lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))


def no_disk_at_all(home):
    """No room from the start: with --keep it is refused before the first note; else playing goes on, and it is said."""
    status, heard, said = Player(home, "--keep", os.path.join(home, "new.mid"), preexec_fn=limited(700)).end()
    check("no room: one line that names the file", status == 1 and "new.mid" in said and said.count("\n") == 1, said)
    p = Player(home, preexec_fn=limited(700))
    p.play()
    status, heard, said = p.end()
    check("no room: plays", status == 0 and melody(heard) == TUNE and silent_end(heard), (status, said))
    check("no room: said", said.count("\n") == 1 and "undersong/sessions" in said, said)
    left = [f for _, _, files in os.walk(home) for f in files]
    check("no room: nothing half made is left", not left, left)


def disk_full(home):
    """The disk fills while somebody plays, fast: it is said, and again at the end; what was kept before stays and can be read."""
    old, new = os.path.join(home, "old.mid"), os.path.join(home, "new.mid")
    p = Player(home, "--keep", old)
    p.play()
    p.end()
    before = open(old, "rb").read()
    p = Player(home, "--keep", new, preexec_fn=limited(36000))
    heard = []
    p.play()
    for _ in range(8):
        p.p.stdin.write(b"".join(bytes([0x90, 48 + n % 30, 90, 0x80, 48 + n % 30, 64]) for n in range(800)))
        heard += p.heard(0.4)
    p.play()
    status, more, said = p.end()
    heard += more
    check("disk full: plays on to the end", melody(heard)[-8:] == TUNE, melody(heard)[-8:])
    check("disk full: silence", silent_end(heard))
    check("disk full: said, with the file's name", status == 1 and said.count("new.mid") == said.count("\n") == 2, said)
    check("disk full: what was kept stays", kept_melody(new)[:100] == melody(heard)[:100], kept_melody(new)[:100])
    check("disk full: the session before is untouched", open(old, "rb").read() == before)
    check("disk full: nothing half made is left", sorted(os.listdir(home)) == ["new.mid", "old.mid"])


def disk_full_for_files(home):
    """No room for what a command writes: one line that names it, status 1, and what was there before is there still."""
    song = os.path.join(home, "song.mid")
    performance(song)
    for words in (["harmonize", "--format", "json"], ["harmonize", "--format", "musicxml"], ["sheet", "--format", "lilypond"]):
        whole(home, words, "out", song)
    whole(home, ["review", "--format", "svg", "--tune", song], "out.svg", song)
    for name in ("out.png", "out.svg"):
        whole(home, ["stand", "--from", song], name, to="--picture")
    for name in ("out.mid", "out.wav"):
        whole(home, ["play", "--virtual-time", "--quiet", "--from", song], name)
    for words in (["--help"], ["--version"], ["--manual"], ["play", "--help"], ["ports", "--patches"], ["harmonize", song],
                  ["harmonize", "--compare", song], ["sheet", song], ["review", "--tune", song, song], ["play", "--virtual-time", "--from", song]):
        with open("/dev/full", "w") as full:
            r = subprocess.run([program, *words], stdout=full, stderr=subprocess.PIPE, text=True)
        check(f"no room for what is printed: {words[0]}", r.returncode == 1 and "standard output" in r.stderr and
              r.stderr.count("\n") == 1, (words, r.returncode, r.stderr))


def whole(home, words, name, *more, to="--to"):
    out = os.path.join(home, "out", name)
    os.makedirs(os.path.dirname(out), exist_ok=True)
    with open(out, "w") as f:
        f.write("from before")
    r = subprocess.run([program, *words, to, out, *more], capture_output=True, text=True, preexec_fn=limited(600))
    check(f"no room for {words[0]} into {name}: said", r.returncode == 1 and name in r.stderr and r.stderr.count("\n") == 1,
          (r.returncode, r.stderr))
    check(f"no room for {words[0]} into {name}: what was there stays", open(out).read() == "from before")
    check(f"no room for {words[0]} into {name}: nothing half made", os.listdir(os.path.dirname(out)) == [name])
    os.unlink(out)


def homes(home):
    """A home that cannot be written, one that is no folder, none at all: playing goes on without keeping, said in one line."""
    plain = os.path.join(home, "a-file")
    open(plain, "w").close()
    bare = {k: v for k, v in os.environ.items() if k != "HOME" and not k.startswith("XDG_")}
    here = os.path.join(home, "here")
    os.mkdir(here)
    cases = {"read-only home": dict(bare, HOME="/proc"), "home is a file": dict(bare, HOME=plain), "no home": bare}
    for name, env in cases.items():
        p = Player(home, env=env, cwd=here)
        p.play()
        status, heard, said = p.end()
        check(f"{name}: plays", status == 0 and melody(heard) == TUNE and silent_end(heard), (status, said))
        check(f"{name}: said in one line", said.count("\n") == 1 and "not kept" in said and "--keep" in said, said)
    check("homes: no half file, also where it was started", not os.listdir(here) and not os.path.getsize(plain), os.listdir(here))


def two_at_once(home):
    """Two programs at once keep a session each."""
    both = [Player(home), Player(home)]
    for p in both:
        p.play()
    for p in both:
        status, heard, said = p.end()
        check("two at once: both play", status == 0 and melody(heard) == TUNE and silent_end(heard) and not said, said)
    kept = [kept_melody(f) for f in sessions(home)]
    check("two at once: a session each", kept == [TUNE, TUNE], kept)


def suspended(home):
    """Stopped for ten seconds with a key down: goes on, without catching up on the left hand, and nothing need be said."""
    kept = os.path.join(home, "kept.mid")
    p = Player(home, "--keep", kept)
    p.play(TUNE * 2, 0.1)
    p.p.stdin.write(bytes([0x90, 64, 90]))
    time.sleep(0.1)
    before = p.heard(0.3)
    p.p.send_signal(signal.SIGSTOP)
    before += p.heard(0.3)
    time.sleep(10)
    p.p.stdin.write(bytes([0x80, 64, 64]))
    p.p.send_signal(signal.SIGCONT)
    woken = p.heard(0.3)
    strikes = [m for m in woken if m.type == "note_on" and m.velocity and m.channel == 1]
    check("suspended: the beats that were missed are not made up", not strikes, strikes)
    p.play(TUNE, 0.1)
    status, after, said = p.end()
    heard = before + woken + after
    check("suspended: plays on", status == 0 and melody(heard) == TUNE * 2 + [64] + TUNE and not said, (status, said))
    check("suspended: silence", silent_end(heard))
    check("suspended: kept", kept_melody(kept) == melody(heard))


def performance(path, notes=48, gap=0.25):
    """A file in which a note comes every quarter of a second."""
    made = mido.MidiFile(ticks_per_beat=480)
    made.tracks.append(track := mido.MidiTrack())
    for i in range(notes):
        ticks = round(gap * 960)  # at the default of 120 quarters a minute
        track.append(mido.Message("note_on", note=TUNE[i % 8], velocity=90, time=ticks // 2))
        track.append(mido.Message("note_off", note=TUNE[i % 8], time=ticks // 2))
    made.save(path)


def suspended_file(home):
    """A file that is played to the end by the clock is stopped for ten seconds on the way: it goes on from where it was,
    with the answer that it has in virtual time."""
    song, stopped, straight = (os.path.join(home, f) for f in ("song.mid", "stopped.mid", "straight.mid"))
    performance(song)
    words = ["--from", song, "--key", "C", "--metre", "4/4", "--quiet"]
    subprocess.run([program, "play", *words, "--to", straight, "--virtual-time"], check=True)
    p = subprocess.Popen([program, "play", *words, "--to", stopped, "--to", "-"], stdout=subprocess.PIPE,
                         stderr=subprocess.PIPE, bufsize=0)
    heard, until = [], time.monotonic() + 20
    while len(melody(heard)) < 6 and time.monotonic() < until:
        heard += parse(os.read(p.stdout.fileno(), 4096))
    p.send_signal(signal.SIGSTOP)
    time.sleep(10)
    os.set_blocking(p.stdout.fileno(), False)
    while more := p.stdout.read(65536):
        heard += parse(more)
    before = len(melody(heard))
    os.set_blocking(p.stdout.fileno(), True)
    p.send_signal(signal.SIGCONT)
    time.sleep(1)
    woken = parse(os.read(p.stdout.fileno(), 65536))
    check("suspended file: no heap of notes", len(melody(woken)) <= 8, melody(woken))
    out, said = p.communicate(timeout=30)
    heard += woken + parse(out)
    check("suspended file: every note", len(melody(heard)) == 48 > before and p.returncode == 0 and not said, (before, said))
    check("suspended file: silence", silent_end(heard))
    check("suspended file: the answer of virtual time", open(stopped, "rb").read() == open(straight, "rb").read())


def broken_patch(home):
    path = os.path.join(home, "mine.ini")
    with open(path, "w") as f:
        f.write("[patch]\nname = Mine\n[melody]\nprogram = nine hundred\n")
    status, heard, said = Player(home, "--patch", path).end()
    check("broken patch: one line with its place", status == 2 and "mine.ini:4" in said and said.count("\n") == 1, said)
    check("broken patch: not a sound", not heard)


def broken_songbook(home):
    """The tunes that can be read are known, the others are named, and playing goes on."""
    book = os.path.join(home, "book")
    os.mkdir(book)
    with open(os.path.join(book, "good.abc"), "w") as f:
        f.write("X:1\nT:Bent Oar\nM:4/4\nL:1/4\nK:C\n\"C\"CEGE|\"F\"FD\"G7\"B,2|\"C\"C4|]\n")
    with open(os.path.join(book, "three.abc"), "w") as f:
        f.write("X:1\nT:One\nM:4/4\nL:1/4\nK:C\nCEGE|FDB,2|]\n\nX:2\nT:Two\nM:4/4\nL:1/4\nK:C\nCE\"G|\n\n"
                "X:3\nT:Three\nM:4/4\nL:1/4\nK:C\nGFED|C4|]\n\nX:4\nT:Four\nM:4/4\nL:1/4\nK:Z\nCEGE|]\n")
    with open(os.path.join(book, "torn.abc"), "wb") as f:
        f.write(b"X:1\nT:Torn\nM:4/4\nL:1/4\nK:C\nCEG\xff\xfe|3/0D\n")
    with open(os.path.join(book, "torn.mid"), "wb") as f:
        f.write(b"MThd\0\0\0\6\0\1\0\2\1\xe0MTrk\0\0\xff")
    p = Player(home, "--songbook", book)
    p.play()
    status, heard, said = p.end()
    check("broken tunes: plays", status == 0 and melody(heard) == TUNE and silent_end(heard), (status, said))
    check("broken tunes: both are named", "torn.abc" in said and "torn.mid" in said and "good.abc" not in said, said)
    check("broken tunes in one file: each is named", "three.abc:13" in said and said.count("three.abc") == 2, said)


def full_songbook(home):
    """A songbook holds 1024 tunes; that there are more is told in one line, and playing goes on."""
    book = os.path.join(home, "large.abc")
    with open(book, "w") as f:
        f.write("".join(f"X:{i}\nM:4/4\nL:1/4\nK:C\nCEG{'CDEFGAB'[i % 7]}|]\n\n" for i in range(1, 1027)))
    p = Player(home, "--songbook", book)
    p.play()
    status, heard, said = p.end()
    check("full songbook: plays", status == 0 and melody(heard) == TUNE and silent_end(heard), (status, said))
    check("full songbook: one line", said.count("left out") == 1 and "large.abc: what comes after the first 1024 tunes" in said, said)


def flood(home):
    """Ten thousand events at once: every note that sounds is released, and it ends."""
    kept = os.path.join(home, "kept.mid")
    notes = [36 + 7 * i % 60 for i in range(5000)]
    data = b"".join(bytes([0x90, n, 90, 0x80, n, 64]) for n in notes)
    p = Player(home, "--keep", kept)
    status, heard, said = (lambda out: (p.p.returncode, parse(out[0]), out[1].decode()))(p.p.communicate(data, 60))
    check("flood: ends well", status == 0, (status, said))
    check("flood: silence", silent_end(heard))
    count = len(melody(heard))
    told = re.search(r"too fast: (\d+) notes not sent to standard output, (\d+) not to a file", said)
    not_sent, not_kept = map(int, told.groups()) if told else (0, 0)
    check("flood: all notes, or it says how many are missing", count == 5000 or not_sent, (count, said))
    ons = {(c, n) for c in range(3) for n in range(128)}
    state = dict.fromkeys(ons, 0)
    for m in mido.MidiFile(kept):
        if m.type == "note_on" and m.velocity:
            state[m.channel, m.note] += 1
        elif m.type in ("note_on", "note_off"):
            state[m.channel, m.note] -= 1
    check("flood: the kept file has a release for each note", not any(state.values()))
    check("flood: all notes are kept, or it says how many are not", kept_melody(kept) == notes or not_kept,
          (len(kept_melody(kept)), said))


def terminal_closed(home):
    """The window of the terminal is closed with a key down: ends by itself, in silence, and what was played is kept."""
    outs, ins = os.pipe()
    pid, master = pty.fork()
    if pid == 0:
        os.environ.update(XDG_DATA_HOME=home, XDG_CONFIG_HOME=home, HOME=home)
        os.dup2(ins, 1)
        os.execl(program, program, "play", "--from", "keys", "--to", "-", "--key", "C")
    os.close(ins)
    seen, until = b"", time.monotonic() + 15
    while b"\n" not in seen and time.monotonic() < until and select.select([master], [], [], 1):
        seen += os.read(master, 4096)
    until = time.monotonic() + 15
    while termios.tcgetattr(master)[3] & termios.ICANON and time.monotonic() < until:
        time.sleep(0.02)
    for key in b"adgd":
        os.write(master, bytes([key]))
        time.sleep(0.15)
    os.close(master)
    ended, until = (0, 0), time.monotonic() + 10
    while not ended[0] and time.monotonic() < until:
        ended = os.waitpid(pid, os.WNOHANG)
        time.sleep(0.02)
    if not ended[0]:
        os.kill(pid, signal.SIGKILL)
        os.waitpid(pid, 0)
    heard = parse(os.fdopen(outs, "rb").read())
    check("closed terminal: ends by itself", ended[0] and os.WIFEXITED(ended[1]), ended)
    check("closed terminal: silence", melody(heard) == [60, 64, 67, 64] and silent_end(heard), heard)
    kept = [kept_melody(f) for f in sessions(home)]
    check("closed terminal: kept", kept == [[60, 64, 67, 64]], kept)


def nobody_listens_to_words(home):
    """Standard error is closed on the way: the music does not care."""
    p = Player(home, quiet=False)
    p.play(TUNE[:3])
    p.p.stderr.close()
    p.p.stderr = None
    p.play(TUNE[3:])
    out, _ = p.p.communicate(timeout=30)
    heard = parse(out)
    check("closed standard error: plays on", p.p.returncode == 0 and melody(heard) == TUNE, p.p.returncode)
    check("closed standard error: silence", silent_end(heard))
    kept = [kept_melody(f) for f in sessions(home)]
    check("closed standard error: kept", kept == [TUNE], kept)


def input_lost(home):
    """A keyboard that sends active sensing and then nothing for 300 ms is gone (MIDI 1.0): what it held is released.
    One that breaks off in the middle of a message leaves nothing sounding either."""
    kept = os.path.join(home, "kept.mid")
    p = Player(home, "--keep", kept)
    p.p.stdin.write(bytes([0xFE, 0x90, 60, 90, 0xFE]))
    heard = p.heard(1.5)
    down = {m.note for m in heard if m.type == "note_on" and m.velocity and m.channel == 0}
    up = {m.note for m in heard if m.type == "note_off" or m.type == "note_on" and not m.velocity}
    check("input lost: released after active sensing stops", down == {60} and 60 in up, heard)
    p.p.stdin.write(bytes([0x90, 64, 90, 0x90, 67]))
    status, more, _ = p.end()
    check("input lost in a message: silence", status == 0 and silent_end(heard + more), more)
    check("input lost: kept, each note with its end", kept_melody(kept) == [60, 64] and not still_down(mido.MidiFile(kept)),
          kept_melody(kept))


def output_lost(home):
    """Whoever reads the bytes goes away with a chord down: the program says nothing to nobody, ends, and keeps it all."""
    kept = os.path.join(home, "kept.mid")
    p = Player(home, "--keep", kept)
    p.play(TUNE[:4])
    p.p.stdin.write(bytes([0x90, 65, 90]))
    heard = p.heard(0.3)
    check("output lost: it played", melody(heard) == TUNE[:4] + [65], heard)
    p.p.stdout.close()
    try:
        p.play(TUNE[5:] * 4)
    except BrokenPipeError:
        pass
    p.p.wait(10)
    said = p.p.stderr.read().decode()
    check("output lost: at most one line", p.p.returncode == 0 and said.count("\n") <= 1, (p.p.returncode, said))
    check("output lost: kept up to there", kept_melody(kept)[:5] == TUNE[:4] + [65], kept_melody(kept))
    check("output lost: each kept note has its end", not still_down(mido.MidiFile(kept)))


def clock_jumps_about(home):
    """The wall clock jumps by hours at every look at it; time goes on all the same."""
    kept = os.path.join(home, "kept.mid")
    env = dict(os.environ, XDG_DATA_HOME=home, XDG_CONFIG_HOME=home, HOME=home, LD_PRELOAD=clock_jumps)
    p = Player(home, "--keep", kept, env=env)
    p.play(TUNE, 0.1)
    status, heard, said = p.end()
    check("clock jumps: plays", status == 0 and melody(heard) == TUNE and silent_end(heard) and not said, (status, said))
    length = mido.MidiFile(kept).length
    check("clock jumps: the kept time is the played one", 0.6 < length < 4, length)


CASES = (no_disk_at_all, disk_full, disk_full_for_files, homes, two_at_once, suspended, suspended_file, broken_patch,
         broken_songbook, full_songbook, flood, terminal_closed, nobody_listens_to_words, input_lost, output_lost, clock_jumps_about)
if not {c.__name__ for c in CASES} >= set(chosen):
    sys.exit("faults.py: which case?")
for case in [c for c in CASES if not chosen or c.__name__ in chosen]:
    with tempfile.TemporaryDirectory() as where:
        before = bad
        case(where)
        print("not ok" if bad > before else "ok", "-", case.__name__.replace("_", " "), flush=True)
sys.exit(1 if bad else 0)
