#!/usr/bin/env python3
"""stand_window.py PROGRAM DEMO-SONGS: the real window on a screen of its own (Xvfb), played by a file, by keys and
mouse (xdotool), and asked through the accessibility bus (AT-SPI).  What it shows is read from scene dumps."""
import os, re, shutil, signal, subprocess, sys, tempfile, time
import mido

program, demo_songs = sys.argv[1:3]
SKIPPED = 77
for tool in ("Xvfb", "xdotool", "dbus-run-session"):
    if not shutil.which(tool):
        print("skipped: no", tool)
        sys.exit(SKIPPED)
if not os.environ.get("STAND_BUS"):  # a session bus of our own, for the accessibility tree
    os.environ["STAND_BUS"] = "1"
    os.execvp("dbus-run-session", ["dbus-run-session", "--", sys.executable] + sys.argv)

bad = 0
KEYBOARD = re.compile(r"^box (right|left|second) (solid|hatched|none) (-?\d+),(-?\d+) (\d+)x(\d+)$", re.M)


def check(what, good, seen=""):
    global bad
    if not good:
        bad += 1
        print("FAILED:", what, seen)


def wait_for(good, seconds=5.0):
    until = time.time() + seconds
    while time.time() < until:
        value = good()
        if value:
            return value
        time.sleep(0.02)
    return None


def start_screen():
    read, write = os.pipe()
    server = subprocess.Popen(["Xvfb", "-displayfd", str(write), "-screen", "0", "1920x1080x24", "-nolisten", "tcp"],
                              pass_fds=[write], stderr=subprocess.DEVNULL)
    os.close(write)
    with os.fdopen(read) as told:
        return server, ":" + told.readline().strip()


class Stand:
    def __init__(self, folder, *words):
        self.dump_path = os.path.join(folder, "scene.txt")
        if os.path.exists(self.dump_path):
            os.remove(self.dump_path)
        self.began = time.time()
        self.process = subprocess.Popen([program, "stand", "--audio", "dummy", "--dump-scene", self.dump_path, *words],
                                        stderr=subprocess.PIPE)
        self.shown = wait_for(lambda: os.path.exists(self.dump_path), 20) is not None
        self.first_picture = time.time() - self.began
        self.window = self.find()

    def find(self):
        ids = wait_for(lambda: subprocess.run(["xdotool", "search", "--pid", str(self.process.pid), "--name",
                                               "undersong"], capture_output=True, text=True).stdout.split(), 5)
        if ids:
            do("windowfocus", ids[-1])
        return ids and ids[-1]

    def dump(self):
        try:
            with open(self.dump_path) as f:
                return f.read()
        except OSError:
            return ""

    def marks(self, hand):
        return [m for m in KEYBOARD.findall(self.dump()) if m[0] == hand]

    def height(self):
        return int(re.match(r"box paper solid 0,0 \d+x(\d+)", self.dump()).group(1))

    def end(self):
        self.process.send_signal(signal.SIGTERM)
        try:
            status = self.process.wait(10)
        except subprocess.TimeoutExpired:
            self.process.kill()
            status = "none: killed"
        return status, self.process.stderr.read().decode()


def do(*words):
    subprocess.run(["xdotool", *words], check=True, stdout=subprocess.DEVNULL)


def text(dump, ink):
    return re.findall(r'^text ' + ink + r' \S+ \S+ size ([\d.]+) "(.*)"$', dump, re.M)


def chord_shown(dump):
    """The large numeral in the left hand's panel."""
    large = [(float(size), words) for size, words in text(dump, "left")]
    return max(large)[1] if large and max(large)[0] > 40 else None


def markers(path):
    return [m.text for m in mido.merge_tracks(mido.MidiFile(path).tracks) if m.type == "marker"]


def distinct(items):
    return [x for i, x in enumerate(items) if i == 0 or items[i - 1] != x]


def check_demo(folder):
    """The window follows the performance as `play` does in virtual time: the same chords in the same order."""
    song = os.path.join(folder, "short.mid")
    track = mido.MidiTrack()
    for pitch in (60, 64, 67, 64, 65, 69, 67, 64, 62, 65, 62, 59, 60, 64, 60):
        track.append(mido.Message("note_on", note=pitch, velocity=80, time=20))
        track.append(mido.Message("note_off", note=pitch, time=300))
    mido.MidiFile(tracks=[track], ticks_per_beat=480).save(song)
    subprocess.run([program, "play", "--from", song, "--to", os.path.join(folder, "out.mid"), "--virtual-time",
                    "--quiet"], check=True)
    expected = distinct(markers(os.path.join(folder, "out.mid")))
    stand = Stand(folder, "--from", song)
    seen, hands = [], set()
    until = time.time() + 9
    while time.time() < until and stand.process.poll() is None:
        dump = stand.dump()
        shown = chord_shown(dump)
        if shown:
            seen.append(shown)
        hands |= {m[0] for m in KEYBOARD.findall(dump)}
        time.sleep(0.02)
    check("the chords in the window are those of `play`", distinct(seen) == expected, (distinct(seen), expected))
    check("more than one chord", len(set(expected)) > 1, expected)
    check("both hands' keys were shown", {"right", "left"} <= hands, hands)
    status, errors = stand.end()
    check("a window that has played a file ends well", status == 0, (status, errors))


def key_middle(dump, pitch):
    """Where a white key of the drawn five octaves from C2 is, below the black ones."""
    keys = re.findall(r"^box white-key solid (-?\d+),(-?\d+) (\d+)x(\d+)$", dump, re.M)
    whites = [p for p in range(36, 97) if p % 12 in (0, 2, 4, 5, 7, 9, 11)]
    x, y, w, h = map(int, keys[whites.index(pitch)])
    return x + w // 2, y + int(h * 0.85)


def inside(mark, point):
    x, y, w, h = map(int, mark[2:])
    return x <= point[0] <= x + w and y <= point[1] <= y + h


def check_hands(folder):
    stand = Stand(folder)
    check("a first picture", stand.shown)
    print("first picture after %.2f s" % stand.first_picture)
    dump = stand.dump()
    c4, e4, c5 = (key_middle(dump, p) for p in (60, 64, 72))
    do("keydown", "z")
    check("z is middle C", wait_for(lambda: [m for m in stand.marks("right") if inside(m, c4)]), stand.marks("right"))
    do("keydown", "q")
    check("two keys at once", wait_for(lambda: len(stand.marks("right")) == 2), stand.marks("right"))
    time.sleep(0.8)  # the system repeats a held key after less than that
    check("a held key is held", len(stand.marks("right")) == 2, stand.marks("right"))
    do("keyup", "z")
    check("a key that comes up ends its note",
          wait_for(lambda: [inside(m, c5) for m in stand.marks("right")] == [True]), stand.marks("right"))
    do("keyup", "q")
    check("no key is down", wait_for(lambda: not stand.marks("right")), stand.marks("right"))
    do("mousemove", str(e4[0]), str(e4[1]), "mousedown", "1")
    check("the mouse plays E", wait_for(lambda: [m for m in stand.marks("right") if inside(m, e4)]), stand.marks("right"))
    do("mousemove", str(c4[0]), str(c4[1]))
    check("the mouse slides to C", wait_for(lambda: [inside(m, c4) for m in stand.marks("right")] == [True]),
          stand.marks("right"))
    do("mouseup", "1")
    check("and lets go", wait_for(lambda: not stand.marks("right")), stand.marks("right"))
    check_controls(stand)
    status, errors = stand.end()
    check("the window ends well", status == 0, (status, errors))
    check("nothing is complained of", "CRITICAL" not in errors and "WARNING" not in errors, errors)


def check_controls(stand):
    """By the computer's keyboard alone."""
    do("key", "Tab")
    do("key", "space")
    check("the first stop is the left hand's switch", wait_for(lambda: "left hand off" in stand.dump()))
    do("key", "space")
    check("and on again", wait_for(lambda: "left hand off" not in stand.dump()))
    before = stand.height()
    do("key", "F9")
    check("F9 gives the picture the whole window", wait_for(lambda: stand.height() > before + 20), stand.height())
    do("key", "F9")
    check("and the controls come back", wait_for(lambda: stand.height() == before), stand.height())
    do("key", "alt+m")
    check("more controls", wait_for(lambda: stand.height() < before - 20), stand.height())
    do("key", "alt+d")
    time.sleep(0.3)
    check_names(stand.process.pid)


def check_names(pid):
    """Every control that can be used has a name, in the accessibility tree (AT-SPI 2)."""
    try:
        import gi
        gi.require_version("Atspi", "2.0")
        from gi.repository import Atspi
    except (ImportError, ValueError):
        print("names not checked: no gir1.2-atspi-2.0")
        return
    names, nameless = [], []

    def walk(node, named):
        if node is None:
            return
        name, role = node.get_name() or "", node.get_role_name()
        if role in ("combo box", "toggle button", "push button", "switch", "slider", "check box"):
            names.append(name)
            if (not name and not named) or name.startswith("Gtk") or "_" in name:
                nameless.append(role)
        for i in range(node.get_child_count()):
            walk(node.get_child_at_index(i), named or bool(name and role in ("combo box", "grouping")))

    def application():
        desktop = Atspi.get_desktop(0)
        for i in range(desktop.get_child_count()):
            node = desktop.get_child_at_index(i)
            if node is not None and node.get_process_id() == pid:
                return node
        return None

    app = wait_for(application, 5)
    check("the window is on the accessibility bus", app is not None)
    walk(app, False)
    check("every control has a name", not nameless, nameless)
    for wanted in ("left hand on", "how the left hand plays", "how often chords change", "which chords are allowed",
                   "sound on", "how loud", "the keyboard you play on", "where MIDI is sent", "Keep this key",
                   "the key in which it is heard", "second voice below the tune", "All notes off"):
        check("a control named " + wanted, wanted in names, names)


def check_memory_of_choices(folder):
    stand = Stand(folder)
    status, errors = stand.end()
    kept = open(os.path.join(folder, "undersong", "stand.ini")).read()
    check("dark paper is remembered", "dark=true" in kept, kept)
    stand = Stand(folder, "--theme", "light")
    stand.end()
    kept = open(os.path.join(folder, "undersong", "stand.ini")).read()
    check("the last choice wins", "dark=false" in kept, kept)


def check_refusals(folder):
    env = {k: v for k, v in os.environ.items() if k not in ("DISPLAY", "WAYLAND_DISPLAY")}
    run = subprocess.run([program, "stand"], env=env, capture_output=True, text=True)
    check("no screen: one line", run.returncode != 0 and run.stderr.count("\n") == 1 and "screen" in run.stderr,
          run.stderr)
    run = subprocess.run([program, "stand", "--from", "/nowhere.mid"], capture_output=True, text=True)
    check("a missing file: exit 2, one line", run.returncode == 2 and "nowhere.mid" in run.stderr, run.stderr)


def main():
    if "no window" in subprocess.run([program, "stand"], capture_output=True, text=True,
                                     env={"PATH": os.environ["PATH"]}).stderr:
        print("skipped: built without GTK 4")
        return SKIPPED
    server, display = start_screen()
    with tempfile.TemporaryDirectory() as folder:
        os.environ.update(DISPLAY=display, GSK_RENDERER="cairo", XDG_CONFIG_HOME=folder, XDG_DATA_HOME=folder,
                          HOME=folder, GTK_A11Y="atspi", NO_AT_BRIDGE="0", LC_ALL="C.UTF-8")
        os.environ.pop("WAYLAND_DISPLAY", None)
        try:
            check_demo(folder)
            check_hands(folder)
            check_memory_of_choices(folder)
            check_refusals(folder)
        finally:
            server.terminate()
            server.wait()
    return 1 if bad else 0


sys.exit(main())
