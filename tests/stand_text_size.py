#!/usr/bin/env python3
"""stand_text_size.py PROGRAM: the window with the system's letters at 200 %, as an XSETTINGS manager (xsettingsd) tells
it.  Where the widgets are and how large is asked through the accessibility tree: none is cut, none lies on another, and
each word has twice the room that it had."""
import os, shutil, subprocess, sys, time
import mido
from on_screen import CONTROLS, SKIPPED, Stand, accessible, check, do, remember, run, settled, text, wait_for, walk

program = sys.argv[1]
SIZES = ("1280x720", "1920x1080", "800x600")


class Letters:
    """What the desktop says of the size of letters."""
    def __init__(self, folder, percent):
        self.path = os.path.join(folder, "xsettings")
        self.write(percent)
        self.manager = subprocess.Popen(["xsettingsd", "-c", self.path], stderr=subprocess.DEVNULL)
        time.sleep(0.5)

    def write(self, percent):
        with open(self.path, "w") as f:
            f.write("Xft/DPI %d\n" % (96 * 1024 * percent // 100))

    def change(self, percent):
        self.write(percent)
        self.manager.send_signal(1)

    def end(self):
        self.manager.terminate()
        self.manager.wait()


def places(app):
    """The rectangles of controls and labels that are shown, by role and name."""
    from gi.repository import Atspi
    found = []
    for n in walk(app):
        e = n.get_component_iface().get_extents(Atspi.CoordType.WINDOW) if n.get_component_iface() else None
        if e and e.width > 0 and e.height > 0:
            found.append((n.get_role_name(), n.get_name(), (e.x, e.y, e.width, e.height)))
    return found


def overlap(a, b):
    return a[0] < b[0] + b[2] and b[0] < a[0] + a[2] and a[1] < b[1] + b[3] and b[1] < a[1] + a[3]


def captions(found):
    """The words of the window; not those inside of open lists."""
    return [(name, box) for role, name, box in found if role == "label" and name not in ("(None)", "GtkLabel")]


def size_of(scene, words):
    return next((float(size) for size, said in text(scene, "text") if words in said), 0)


def check_layout(size, app, usual):
    wide, tall = map(int, size.split("x"))
    found = settled(lambda: places(app))
    words = captions(found)
    check(size + ": there are controls", len(words) > 25, len(words))
    outside = [(n, b) for n, b in words if b[0] < 0 or b[0] + b[2] > wide]
    check(size + ": none is cut at the side", not outside, outside)
    lying = [(a[0], b[0]) for i, a in enumerate(words) for b in words[i + 1:] if overlap(a[1], b[1])]
    check(size + ": no words lie on others", not lying, lying)
    boxes = [(name, box) for role, name, box in found if role in CONTROLS and role != "combo box"]
    lying = [(a[0], b[0]) for i, a in enumerate(boxes) for b in boxes[i + 1:] if overlap(a[1], b[1])]
    check(size + ": no controls lie on others", not lying, lying)
    short = [(n, b[2], usual[n]) for n, b in words if n in usual and b[2] < 1.85 * usual[n]]
    check(size + ": each word has its room", not short, short)
    picture = next(box for role, _, box in found if role == "image")
    check(size + ": the picture keeps its part", picture[3] >= 0.4 * tall, picture)
    top = min(box[1] for _, box in words)
    check(size + ": the controls are below the picture", top >= picture[1] + picture[3], (top, picture))


def check_sizes(folder):
    letters = Letters(folder, 100)
    remember(folder, "more=true")
    stand = Stand(program, folder)
    app = accessible(stand.process.pid)
    usual = {name: box[2] for name, box in captions(settled(lambda: places(app)))}
    small = size_of(stand.dump(), "Play a tune")
    letters.change(200)
    check("letters grow while the window is open", wait_for(lambda: size_of(stand.dump(), "Play a tune") > small),
          (small, text(stand.dump(), "text")))
    check_layout("1280x720", app, usual)
    stand.end()
    for size in SIZES[1:]:
        stand = Stand(program, folder, "--size", size)
        check_layout(size, accessible(stand.process.pid), usual)
        stand.ends_well()
    letters.end()


def check_review(folder):
    """The review's words keep to the window and do not lie on one another."""
    letters = Letters(folder, 200)
    sessions = os.path.join(folder, "undersong", "sessions")
    os.makedirs(sessions)
    track = mido.MidiTrack()
    for pitch in (60, 62, 64, 65, 67, 65, 64, 62) * 4:
        track.append(mido.Message("note_on", note=pitch, velocity=80, time=20))
        track.append(mido.Message("note_off", note=pitch, time=220))
    mido.MidiFile(tracks=[track], ticks_per_beat=480).save(os.path.join(sessions, "evening.mid"))
    stand = Stand(program, folder)
    app = accessible(stand.process.pid)
    do("key", "alt+m", "alt+r")
    wait_for(lambda: any("You played" in (n.get_name() or "") for n in walk(app)), 10)
    words = captions(settled(lambda: places(app)))
    words = words[:[n for n, _ in words].index("left hand")]  # what comes after are the controls
    check("the review is shown", any("You played" in n for n, _ in words), words)
    outside = [(n, b) for n, b in words if b[0] + b[2] > 1280]
    check("nothing of it is cut", not outside, outside)
    lying = [(a[0], b[0]) for i, a in enumerate(words) for b in words[i + 1:] if overlap(a[1], b[1])]
    check("nothing of it lies on other words", not lying, lying)
    stand.end()
    letters.end()


if not shutil.which("xsettingsd"):
    print("skipped: no xsettingsd")
    sys.exit(SKIPPED)
sys.exit(run(program, check_sizes, check_review))
