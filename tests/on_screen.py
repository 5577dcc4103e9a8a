"""A screen of its own for the window (Xvfb, a session bus), the window on it, hands on it (xdotool), and its
accessibility tree (AT-SPI 2).  Tests import it; `run` is their main."""
import configparser, os, re, shutil, signal, subprocess, sys, tempfile, time

SKIPPED = 77
bad = 0
# The bar of folders in GTK's own file dialog has two buttons to scroll it.  Where the dialog is drawn before its folder is
# looked up they have no place yet, and GTK says so of each, once.
FOLDER_BUTTON = re.compile(r"^\(undersong:\d+\): Gtk-WARNING \*\*: [\d:.]+: Trying to snapshot GtkButton 0x[0-9a-f]+ without a "
                           r"current allocation\n", re.M)
KEYBOARD = re.compile(r"^box (right|left|second)-key (solid|hatched|none) (-?\d+),(-?\d+) (\d+)x(\d+)$", re.M)


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


def settled(look):
    """What it sees, once that has stayed the same for a third of a second."""
    def same_again():
        before = look()
        time.sleep(0.33)
        return before if look() == before else None
    return wait_for(same_again, 10) or look()


def do(*words):
    subprocess.run(["xdotool", *words], check=True, stdout=subprocess.DEVNULL)


def start_screen(size="1920x1080x24", *words):
    """Xvfb on a display of its own choice; the server, and the display's name."""
    read, write = os.pipe()
    server = subprocess.Popen(["Xvfb", "-displayfd", str(write), "-screen", "0", size, "-nolisten", "tcp", "-noreset", *words],
                              pass_fds=[write], stderr=subprocess.DEVNULL)
    os.close(write)
    with os.fdopen(read) as told:
        return server, ":" + told.readline().strip()


def remembered(folder):
    """What the window remembers of the player's choices."""
    kept = configparser.ConfigParser()
    kept.read(os.path.join(folder, "undersong", "stand.ini"))
    return kept["stand"]


def remember(folder, *choices):
    """As if these had been chosen the day before."""
    os.makedirs(os.path.join(folder, "undersong"), exist_ok=True)
    with open(os.path.join(folder, "undersong", "stand.ini"), "w") as f:
        f.write("\n".join(("[stand]",) + choices) + "\n")


class Stand:
    def __init__(self, program, folder, *words, audio="dummy", stdin=None):
        self.dump_path = os.path.join(folder, "scene.txt")
        if os.path.exists(self.dump_path):
            os.remove(self.dump_path)
        self.dialogs = 0  # of GTK's, for a file
        self.began = time.time()
        self.process = subprocess.Popen([program, "stand", "--audio", audio, "--dump-scene", self.dump_path, *words],
                                        stdin=stdin, stderr=subprocess.PIPE)
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

    def play(self, keys, seconds=0.25):
        """Taps on the computer's keys, one after the other."""
        for key in keys:
            do("keydown", key)
            time.sleep(seconds * 0.8)
            do("keyup", key)
            time.sleep(seconds * 0.2)

    def end(self):
        self.process.send_signal(signal.SIGTERM)
        try:
            status = self.process.wait(10)
        except subprocess.TimeoutExpired:
            self.process.kill()
            status = "none: killed"
        return status, self.process.stderr.read().decode()

    def ends_well(self):
        """Closed from outside, and GTK has complained of nothing that is ours."""
        status, errors = self.end()
        ours = FOLDER_BUTTON.sub("", errors)
        check("it ends well", status == 0 and "CRITICAL" not in ours and "WARNING" not in ours and
              len(FOLDER_BUTTON.findall(errors)) <= 2 * self.dialogs, (status, errors))


def text(dump, ink):
    return re.findall(r'^text ' + ink + r' \S+ \S+ size ([\d.]+) "(.*)"$', dump, re.M)


def key_middle(dump, pitch):
    """Where a white key of the drawn five octaves from C2 is, below the black ones."""
    keys = re.findall(r"^box white-key solid (-?\d+),(-?\d+) (\d+)x(\d+)$", dump, re.M)
    whites = [p for p in range(36, 97) if p % 12 in (0, 2, 4, 5, 7, 9, 11)]
    x, y, w, h = map(int, keys[whites.index(pitch)])
    return x + w // 2, y + int(h * 0.85)


def inside(mark, point):
    x, y, w, h = map(int, mark[2:])
    return x <= point[0] <= x + w and y <= point[1] <= y + h


class NotAsked(Exception):
    """The accessibility tree cannot be asked: what else a test looks at is nothing to look at alone."""


def accessible(pid):
    """The window's root in the accessibility tree."""
    try:
        import gi
        gi.require_version("Atspi", "2.0")
        from gi.repository import Atspi
    except (ImportError, ValueError):
        raise NotAsked("no gir1.2-atspi-2.0") from None

    def application():
        desktop = Atspi.get_desktop(0)
        for i in range(desktop.get_child_count()):
            node = desktop.get_child_at_index(i)
            if node is not None and node.get_process_id() == pid:
                return node
        return None

    app = wait_for(application, 5)
    check("the window is on the accessibility bus", app is not None)
    if app is None:
        raise NotAsked("the window cannot be found")
    return app


def walk(node):
    """All nodes below."""
    if node is None:
        return
    yield node
    for i in range(node.get_child_count()):
        yield from walk(node.get_child_at_index(i))


CONTROLS = ("combo box", "toggle button", "push button", "switch", "slider", "check box")


def focused(app):
    """The name of what the keyboard's focus is on."""
    from gi.repository import Atspi
    app.clear_cache()
    for node in walk(app):
        if node.get_state_set().contains(Atspi.StateType.FOCUSED):
            return node.get_name() or node.get_role_name()
    return None


def tab(app, here):
    """Presses Tab and waits until the focus has gone on from here; where it is then."""
    do("key", "Tab")
    return wait_for(lambda: (now := focused(app)) != here and now, 2)


def tab_to(app, name):
    """Presses Tab until the focus is there."""
    here = focused(app)
    for _ in range(40):
        if here == name:
            return True
        here = tab(app, here)
    return False


def choose(app, name, downs):
    """Opens the list of that name and chooses the row so far down, or up."""
    check("Tab to " + name, tab_to(app, name))
    do("key", "space")
    check("a list opens: " + name, wait_for(lambda: focused(app) != name))
    do("key", *["Down" if downs > 0 else "Up"] * abs(downs), "Return")
    check("it closes: " + name, wait_for(lambda: focused(app) == name))


def has_window(program):
    return "no window" not in subprocess.run([program, "stand"], capture_output=True, text=True,
                                             env={"PATH": os.environ["PATH"]}).stderr


def run(program, *checks):
    """Each check gets a folder in which nothing is remembered yet, and the program's data and configuration."""
    for tool in ("Xvfb", "xdotool", "dbus-run-session"):
        if not shutil.which(tool):
            print("skipped: no", tool)
            return SKIPPED
    if not has_window(program):
        print("skipped: built without GTK 4")
        return SKIPPED
    if not os.environ.get("STAND_BUS"):  # buses of our own, for the accessibility tree
        with tempfile.TemporaryDirectory(prefix="stand-bus-", ignore_cleanup_errors=True) as place:
            os.environ["STAND_BUS"] = os.environ["XDG_RUNTIME_DIR"] = place
            return subprocess.run(["dbus-run-session", "--", sys.executable] + sys.argv).returncode
    server, display = start_screen()
    os.environ.update(DISPLAY=display, GSK_RENDERER="cairo", GTK_A11Y="atspi", NO_AT_BRIDGE="0", LC_ALL="C.UTF-8")
    os.environ.pop("WAYLAND_DISPLAY", None)
    try:
        for each in checks:
            with tempfile.TemporaryDirectory() as folder:
                os.environ.update(XDG_CONFIG_HOME=folder, XDG_DATA_HOME=folder, HOME=folder)
                each(folder)
    except NotAsked as reason:
        print("skipped, with all that follows:", reason)
        return 1 if bad else SKIPPED
    finally:
        server.terminate()
        server.wait()
    return 1 if bad else 0
