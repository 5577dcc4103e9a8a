#!/usr/bin/env python3
"""play_live.py PROGRAM: the program as a whole, live: bytes in and out, signals, pipes that close, real time
against virtual time, the computer's keys in a terminal.  Kept files are read back with python3-mido."""
import fcntl, os, pty, re, resource, select, shutil, signal, struct, subprocess, sys, tempfile, termios, time, unicodedata
import mido
from listening import heard_until, parse, silent_end, still_down, strikes

program = sys.argv[1]
bad = 0
TUNE = [60, 64, 67, 64, 65, 62, 59, 60]


def check(what, good):
    global bad
    if not good:
        bad += 1
        print("FAILED:", what)


def start(folder, *words, **more):
    env = dict(os.environ, XDG_DATA_HOME=folder, XDG_CONFIG_HOME=folder, HOME=folder)
    return subprocess.Popen([program, "play", *words], env=env, **more)


def start_bytes(folder, *words, **more):
    return start(folder, "--from", "-", "--to", "-", "--key", "C", "--metre", "4/4", "--quiet", *words,
                 stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, bufsize=0, **more)


def play(p, notes, gap=0.2):
    """No quicker than eighths: what comes within a tenth of a second may be a grip or an ornament, and no beat."""
    for note in notes:
        p.stdin.write(bytes([0x90, note, 90]))
        time.sleep(gap)
        p.stdin.write(bytes([0x80, note, 64]))


def notes_of(path):
    return [m for m in mido.MidiFile(path) if m.type == "note_on" and m.velocity]


def ends(folder):
    """However it ends, with a key held: released, CC 123, and the kept file reads back."""
    for way in ("eof", signal.SIGTERM, signal.SIGINT, signal.SIGHUP):
        kept = os.path.join(folder, "kept.mid")
        p = start_bytes(folder, "--keep", kept)
        play(p, TUNE)
        p.stdin.write(bytes([0x90, 72, 90]))
        heard = heard_until(p.stdout, lambda messages: len(strikes(messages, 0)) == 9)
        if way == "eof":
            p.stdin.close()
        else:
            p.send_signal(way)
        messages = parse(heard + p.stdout.read())
        check(f"{way}: exit status {p.wait()}", p.returncode == 0)
        check(f"{way}: the melody comes through", sum(m.type == "note_on" and m.channel == 0 for m in messages) == 9)
        check(f"{way}: a left hand", sum(m.type == "note_on" and m.channel == 1 for m in messages) >= 3)
        check(f"{way}: silence at the end, {still_down(messages)}", silent_end(messages))
        check(f"{way}: kept", len(notes_of(kept)) == sum(m.type == "note_on" for m in messages))
        os.unlink(kept)


def pipe_closes(folder):
    kept = os.path.join(folder, "kept.mid")
    p = start_bytes(folder, "--keep", kept)
    play(p, TUNE[:2])
    p.stdout.close()
    try:
        play(p, TUNE[2:4])
    except BrokenPipeError:
        pass  # it has ended already
    try:
        code = p.wait(3)
    except subprocess.TimeoutExpired:
        code = None
    check(f"closed pipe: ends by itself, {code}", code == 0)
    check("closed pipe: kept", len(notes_of(kept)) >= 3)


def killed(folder):
    kept = os.path.join(folder, "kept.mid")
    p = start_bytes(folder, "--keep", kept)
    play(p, TUNE * 2)
    heard = heard_until(p.stdout, lambda messages: len(strikes(messages, 0)) == 16)
    deadline = time.time() + 10
    while not (os.path.exists(kept) and len(strikes(mido.MidiFile(kept), 0)) == 16) and time.time() < deadline:
        time.sleep(0.1)
    p.kill()
    p.wait()
    answered = sum(m.type == "note_on" for m in parse(heard + p.stdout.read()))
    check(f"KILL: what was kept before is there, {answered}", answered >= 19 and len(notes_of(kept)) == answered)


def same_in_real_time(folder):
    """A performance at its own speed gives the same file, byte for byte, as in virtual time."""
    source = os.path.join(folder, "source.mid")
    f = mido.MidiFile(ticks_per_beat=480)
    track = mido.MidiTrack()
    f.tracks.append(track)
    for note in TUNE + [60]:
        track.append(mido.Message("note_on", note=note, velocity=80, time=0))
        track.append(mido.Message("note_off", note=note, velocity=64, time=400))
    f.save(source)
    files = [os.path.join(folder, name) for name in ("virtual.mid", "real.mid")]
    for path, words in zip(files, (["--virtual-time"], ["--audio", "dummy", "--to", "synth"])):
        p = start(folder, "--from", source, "--to", path, "--quiet", *words)
        check(f"{path}: exit status", p.wait(60) == 0)
    check("real time as virtual time", open(files[0], "rb").read() == open(files[1], "rb").read())


def typed(folder):
    """The computer's keys in a terminal: notes, a change of left hand, and the terminal as it was."""
    master, slave = pty.openpty()
    before = termios.tcgetattr(slave)
    out = os.path.join(folder, "typed.mid")
    p = start(folder, "--from", "keys", "--to", out, "--to", "-", "--key", "C", "--quiet", "--keep", "no", stdin=slave,
              stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, start_new_session=True)
    deadline = time.time() + 10
    while termios.tcgetattr(slave)[3] & termios.ICANON and time.time() < deadline:
        time.sleep(0.02)
    for key in "adgd":
        os.write(master, key.encode())
        time.sleep(0.15)
    os.write(master, b" ")
    time.sleep(0.1)
    os.write(master, b"a")
    heard_until(p.stdout, lambda messages: len(strikes(messages, 0)) == 5)
    p.terminate()
    check("keys: exit status", p.wait(20) == 0)
    check("keys: the terminal is as before", termios.tcgetattr(slave) == before)
    melody = [m.note for m in notes_of(out) if m.channel == 0]
    check(f"keys: {melody}", melody == [60, 64, 67, 64, 60])


def terminal_view(folder):
    """On a terminal five lines that stay in their place; elsewhere a line a note.  Both tell the news of a loop."""
    song = os.path.join(folder, "song.mid")
    track = mido.MidiTrack()
    for note in TUNE:
        track.append(mido.Message("note_on", note=note, velocity=80, time=20))
        track.append(mido.Message("note_off", note=note, time=120))
    mido.MidiFile(tracks=[track], ticks_per_beat=480).save(song)
    page = os.path.join(folder, "page.abc")
    with open(page, "w") as out:
        out.write("X:1\nT:Two lines\nM:4/4\nL:1/4\nK:C\nCEGE|FDB,C|\nGFED|C4|]\n")
    words = ["--from", song, "--to", os.path.join(folder, "view.mid"), "--key", "C", "--metre", "4/4", "--tune", page,
             "--phrase", "1"]
    master, slave = pty.openpty()
    env = dict(os.environ, TERM="xterm", XDG_DATA_HOME=folder, XDG_CONFIG_HOME=folder, HOME=folder)
    p = subprocess.Popen([program, "play", *words], env=env, stdout=slave, stderr=subprocess.DEVNULL,
                         stdin=subprocess.DEVNULL)
    os.close(slave)
    seen = b""
    while True:
        try:
            data = os.read(master, 4096)
        except OSError:  # the other end is closed
            break
        if not data:
            break
        seen += data
    p.wait(5)
    *pictures, left = seen.split(b"\r" + b"\x1b[A" * 4)
    check(f"view: drawn again in place {len(pictures)}", len(pictures) >= len(TUNE) - 2)
    check("view: five lines each", all(part.count(b"\n") == 4 for part in pictures))
    check("view: in the end the cursor is below it", left.replace(b"\r", b"") == b"\n" * 5)
    last = pictures[-1].decode()
    # The last note is step 1 after V (bar 2: 4, 2 7, 1): common practice, no source: it comes home to I.
    check(f"view: {last!r}", "C major (held)" in last and "right hand  1 do" in last and re.search(r"chord {7}I +C\b", last)
          and re.search(r"left hand {3}C\d E\d G\d", last) and "phrase 1, time 1: clean" in last)
    check("view: where to begin", "phrase 1 of 2, bars 1 to 2" in pictures[0].decode())
    for columns in (40, 30):
        narrow = on_a_terminal([program, "play", *words], env, 10, columns)
        check(f"view: on {columns} columns whole lines, and the beats", b"4/4" in narrow and
              (b"(4)" in narrow or columns < 40) and all(len(line) < columns for line in re.split(rb"[\r\n]", re.sub(rb"\x1b\[[0-9;]*[A-Za-z]", b"", narrow))))
    moved = on_a_terminal([program, "play", *words, "--sound-in", "D"], env, 24, 80)
    check("view: names as they are played, though it sounds in D", re.search(rb"left hand {3}C\d E\d G\d", moved) and
          not re.search(rb"left hand {3}D\d F#", moved))
    check("view: no colours, so none to switch off", not re.search(rb"\x1b\[[0-9;]*m", seen))
    dumb = on_a_terminal([program, "play", *words], dict(env, TERM="dumb"), 24, 80)
    check("view: plain lines on a terminal that cannot go up", b"\x1b" not in dumb and b"you play" in dumb)
    plain = subprocess.run([program, "play", *words], env=env, capture_output=True, text=True, stdin=subprocess.DEVNULL)
    check("view: plain lines in a pipe", "\x1b" not in plain.stdout and "you play" in plain.stdout)
    check("news in a pipe", "phrase 1, time 1: clean" in plain.stdout)
    drill = subprocess.run([program, "play", *words[:4], "--drill", "C,G"], env=env, capture_output=True, text=True,
                           stdin=subprocess.DEVNULL)
    check(f"news of a drill, live {drill.stdout}", "now in G major" in drill.stdout)


class Paper:
    """What stands on a terminal: lines of text, broken anew at another width or cut at it, and a cursor."""
    def __init__(self, width, breaks):
        self.width, self.breaks, self.lines, self.line, self.at = width, breaks, [""], 0, 0

    def resize(self, width):
        self.width = width
        if not self.breaks:
            self.lines, self.at = [line[:width] for line in self.lines], min(self.at, width)

    def up(self):
        if self.at >= self.width:
            self.at -= self.width
        elif self.line:
            self.line -= 1
            self.at += max(0, len(self.lines[self.line]) - 1) // self.width * self.width

    def write(self, text):
        for part in re.findall(r"\x1b\[[0-9;]*[A-Za-z]|[\r\n]|[^\r\n\x1b]+", text):
            here = self.lines[self.line]
            if part == "\x1b[A":
                self.up()
            elif part == "\x1b[J":
                self.lines[self.line:] = [here[:self.at]]
            elif part == "\r":
                self.at -= self.at % self.width
            elif part == "\n":
                self.line, self.at = self.line + 1, 0
                self.lines += [""] * (self.line == len(self.lines))
            elif part[0] != "\x1b":
                self.lines[self.line] = here[:self.at].ljust(self.at) + part + here[self.at + len(part):]
                self.at += len(part)


def made_narrower(folder):
    """A terminal is made narrower while somebody plays, and wider again: no line of the view is left behind, whether the
    terminal breaks its lines anew or cuts them."""
    env = dict(os.environ, TERM="xterm", XDG_DATA_HOME=folder, XDG_CONFIG_HOME=folder, HOME=folder)
    words = [program, "play", "--from", "-", "--to", os.path.join(folder, "narrow.mid"), "--key", "C", "--metre", "4/4",
             "--keep", "no"]
    for breaks in (True, False):
        master, slave = pty.openpty()
        paper = Paper(100, breaks)
        fcntl.ioctl(master, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 100, 0, 0))
        p = subprocess.Popen(words, env=env, stdin=subprocess.PIPE, stdout=slave, stderr=slave)
        os.close(slave)
        seen = []
        for columns in (100, 34, 22, 90):
            paper.resize(columns)
            fcntl.ioctl(master, termios.TIOCSWINSZ, struct.pack("HHHH", 24, columns, 0, 0))
            for note in (60, 64):
                p.stdin.write(bytes([0x90, note, 80, 0x80, note, 64]))
                p.stdin.flush()
                time.sleep(0.15)
            for _ in range(25):  # until it is drawn, and a fifth of a second more
                while select.select([master], [], [], 0.2)[0]:
                    paper.write(os.read(master, 4096).decode())
                views = [line for line in paper.lines if line.startswith("right hand")]
                if len(views) == 1:
                    break
            seen.append(views)
        p.stdin.close()
        p.wait(5)
        try:
            paper.write(os.read(master, 4096).decode())
        except OSError:  # nothing more
            pass
        os.close(master)
        check(f"view: once, at each width (breaks anew: {breaks}) {seen} {paper.lines}", [len(s) for s in seen] == [1] * 4)
        check("view: the last picture stays", sum("left hand" in line for line in paper.lines) == 1 and
              paper.lines[paper.line] == "")


def on_a_terminal(words, env, rows, columns):
    """All that the program writes on a terminal of that size."""
    master, slave = pty.openpty()
    fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
    p = subprocess.Popen(words, env=env, stdout=slave, stderr=subprocess.DEVNULL, stdin=subprocess.DEVNULL)
    os.close(slave)
    seen = b""
    try:
        while data := os.read(master, 4096):
            seen += data
    except OSError:  # the other end is closed
        pass
    p.wait(5)
    return seen


def wide_letters(folder):
    """A title in letters that take two columns breaks no line of the view."""
    tune, song = os.path.join(folder, "wide.abc"), os.path.join(folder, "wide.mid")
    with open(tune, "w") as f:
        f.write("X:1\nT:" + "\u9752\u3044\u7cf8\u306e\u5ead" * 4 + "\nM:4/4\nL:1/4\nK:C\nCEGE|FAGE|DFDB,|CECC|]\n")
    env = dict(os.environ, TERM="xterm", XDG_DATA_HOME=folder, XDG_CONFIG_HOME=folder, HOME=folder)
    track = mido.MidiTrack()
    for note in (60, 64, 67, 64, 65, 69, 67, 64):
        track += [mido.Message("note_on", note=note, velocity=80, time=10), mido.Message("note_off", note=note, time=230)]
    mido.MidiFile(tracks=[track], ticks_per_beat=480).save(song)
    seen = on_a_terminal([program, "play", "--from", song, "--tune", tune, "--to", os.path.join(folder, "o.mid")], env, 24, 80)
    lines = re.split(r"[\r\n]", re.sub(r"\x1b\[[0-9;]*[A-Za-z]", "", seen.decode()))
    wide = [sum(1 + (unicodedata.east_asian_width(c) in "WF") for c in line) for line in lines]
    check(f"view: a title in wide letters {max(wide)}", any("\u9752" in line for line in lines) and max(wide) < 80)


def full_disk(folder):
    """What is printed is lost where the disk is full: that is told, and the music is whole."""
    out = os.path.join(folder, "whole.mid")
    p = start(folder, "--from", "-", "--to", out, "--keep", "no", stdin=subprocess.PIPE, stdout=open("/dev/full", "w"),
              stderr=subprocess.PIPE, bufsize=0)
    play(p, (60, 64, 67))
    error = p.communicate(timeout=20)[1].decode()
    check(f"full disk: {p.returncode} {error!r}", p.returncode == 1 and "standard output" in error)
    check("full disk: the music is whole", len([n for n in notes_of(out) if n.channel == 0]) == 3)


def refusals(folder):
    rows = [(["--from", "No Such Keyboard"], 2, "No Such Keyboard"), (["--from", "-", "--to", "No Such Synth"], 2,
            "No Such Synth"), (["--from", "-", "--to", "x.ogg"], 2, "FILE.wav"), (["--from", "x.ogg"], 2, "FILE.abc"), (["--from", "-", "--switch-key", "H9"], 2, "H9"), (["--from", "-", "--channel", "17"], 2,
            "17"), (["--from", "-", "--patch", "no-such-patch"], 2, "no-such-patch"), (["--from", "keys"], 2, "terminal"),
            (["--from", "-", "--sound-font", "/etc/passwd"], 2, "/etc/passwd"), (["--virtual-time"], 2, "--from")]
    if not os.path.exists("/dev/snd/seq"):
        rows.append(([], 1, "--from keys"))
    for words, status, names in rows:
        p = start(folder, *words, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        _, error = p.communicate(timeout=20)
        error = error.decode()
        check(f"{words}: {p.returncode} {error!r}", p.returncode == status and names in error and error.count("\n") == 1)


def real_time(folder):
    """Who plays and who sounds have priority and locked memory where that is allowed; where not it is told, once."""
    def threads(p):
        return [os.sched_getscheduler(int(t)) & ~os.SCHED_RESET_ON_FORK for t in os.listdir(f"/proc/{p.pid}/task")]
    words = ["--from", "-", "--to", "synth", "--audio", "dummy", "--keep", "no"]
    allowed = os.geteuid() == 0
    p = start(folder, *words, stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True)
    deadline = time.time() + 10
    while (allowed and threads(p).count(os.SCHED_FIFO) < 2 or locked_kb(p) <= 500) and time.time() < deadline:
        time.sleep(0.05)
    raised, locked = threads(p).count(os.SCHED_FIFO), locked_kb(p)
    said = p.communicate()[1]
    check(f"memory is locked: {locked} kB", locked > 500)
    if allowed:
        check(f"priority: {raised} threads, {said}", raised == 2 and "real-time" not in said)
    if not allowed or not shutil.which("setpriv"):
        return
    environ = dict(os.environ, DBUS_SYSTEM_BUS_ADDRESS="unix:path=/nonexistent", HOME=folder, XDG_DATA_HOME=folder)
    p = subprocess.Popen(["setpriv", "--bounding-set=-all", "--inh-caps=-all", program, "play", *words], env=environ,
                         stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True,
                         preexec_fn=no_priority)
    said = p.stderr.readline()
    time.sleep(0.5)  # a second one would come now
    said += p.communicate()[1]
    check(f"no priority: told once, {said}", p.returncode == 0 and said.count("real-time priority") == 1 and
          said.count("\n") == 1)


def locked_kb(p):
    with open(f"/proc/{p.pid}/status") as f:
        return int(re.search(r"VmLck:\s+(\d+)", f.read()).group(1))


def told_quietly(folder):
    """What goes wrong is said with --quiet too, where there is no view that it could interrupt."""
    env = dict(os.environ, HOME=folder, XDG_DATA_HOME=folder, JACK_NO_START_SERVER="1", JACK_DEFAULT_SERVER="nowhere")
    p = subprocess.Popen([program, "play", "--from", "-", "--to", "synth", "--audio", "jack", "--keep", "no", "--quiet"],
                         env=env, stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True)
    line = p.stderr.readline()
    rest = p.communicate(timeout=20)[1]
    check(f"told with --quiet: {line!r} {p.returncode} {rest!r}", "no sound output answers" in line and not p.returncode)


def no_priority():
    resource.setrlimit(resource.RLIMIT_RTPRIO, (0, 0))


def ports(folder):
    env = dict(os.environ, XDG_CONFIG_HOME=folder)
    r = subprocess.run([program, "ports", "--patches"], env=env, capture_output=True, text=True)
    check("ports --patches", r.returncode == 0 and all(w in r.stdout for w in ("front-room-piano", "chapel-organ",
                                                                             "midi-only")) and r.stdout.count("\n") >= 16)
    r = subprocess.run([program, "ports"], env=env, capture_output=True, text=True, timeout=60)
    check("ports", r.returncode == 0 and "MIDI input" in r.stdout and "ound output" in r.stdout)


with tempfile.TemporaryDirectory() as where:
    for test in (ports, ends, pipe_closes, killed, same_in_real_time, typed, terminal_view, made_narrower, wide_letters, full_disk,
                 refusals,
                 told_quietly, real_time):
        test(where)
sys.exit(1 if bad else 0)
