#!/usr/bin/env python3
"""stand_keyboard.py PROGRAM DEMO-SONGS: the window used by the computer's keyboard alone.  Where the focus is and what
controls there are is asked through the accessibility tree; what they did is read from what the window remembers."""
import os, re, shutil, subprocess, sys, time
from on_screen import CONTROLS, Stand, accessible, check, choose, do, focused, remember, remembered, run, tab, tab_to, text, wait_for, walk

program, demo_songs = sys.argv[1:3]
CHOICES = (  # the control's name, what it is remembered as, how often Down is pressed in its list
    ("how the left hand plays", "left-hand", 2), ("how often chords change", "change", 1),
    ("which chords are allowed", "chords", 2), ("second voice below the tune", "second-voice", 1),
    ("how much of the left hand the program plays", "share", 2), ("the instruments", "patch", 1),
    ("pedal or key for the next left hand", "pedal", 1),
    ("keys round which the tune is led", "drill", 2), ("the keyboard you play on", "input", 1))


def names_of(app):
    return [n.get_name() for n in walk(app) if n.get_role_name() in CONTROLS and n.get_role_name() != "combo box"]


def check_walk(folder):
    stand = Stand(program, folder)
    do("key", "alt+m")
    app = accessible(stand.process.pid)
    wanted = set(names_of(app)) - {"Close the review", "Practise this phrase"}  # on a page of its own
    reached, here = set(), focused(app)
    for _ in range(len(wanted) + 3):
        here = tab(app, here)
        reached.add(here)
    check("Tab reaches every control", wanted <= reached, wanted - reached)
    check("and the picture", "keys, steps and chords" in reached, reached)
    check("there are as many as there should be", len(wanted) >= 20, wanted)
    for name, _, downs in CHOICES:
        choose(app, name, downs)
    use_others(stand, app)
    stand.ends_well()
    kept = remembered(folder)
    for name, key, _ in CHOICES:
        fallback = {"patch": "front-room-piano", "input": "", "chords": "1"}.get(key, "0")
        check(name + " has changed", kept[key] != fallback, kept[key])
    check("the sound is off", kept["sound"] == "false")
    check("the level is lower", float(kept["volume"]) < 0.65, kept["volume"])
    check("dark paper", kept["dark"] == "true")


def use_others(stand, app):
    before = stand.height()
    tab_to(app, "sound on")
    do("key", "space")
    tab_to(app, "how loud")
    do("key", "Left", "Left", "Left")
    tab_to(app, "Dark")
    do("key", "space")
    tab_to(app, "left hand on")
    do("key", "space")
    check("the left hand is off", wait_for(lambda: "left hand off" in stand.dump()))
    do("key", "space")
    check("a key of the computer sounds while a control has the focus", sounds(stand, "z"))
    check("and leaves the control alone", focused(app) == "left hand on", focused(app))
    tab_to(app, "Keep this key")
    stand.play("zcbzcbz")
    do("key", "space")
    check("the key is held", wait_for(lambda: "(held)" in stand.dump()), text(stand.dump(), "text"))
    choose(app, "the key in which it is heard", 2)
    tab_to(app, "Hide these")
    do("key", "space")
    check("the picture alone", wait_for(lambda: stand.height() > before + 50), stand.height())
    check("then it has the focus", wait_for(lambda: focused(app) == "keys, steps and chords"), focused(app))
    do("key", "F9")
    wait_for(lambda: stand.height() == before)


def check_small(folder):
    """In the smallest window the controls that find no room are scrolled to: whatever has the focus is seen, whole, below
    the picture."""
    remember(folder, "more=true")
    stand = Stand(program, folder, "--size", "480x360")
    app = accessible(stand.process.pid)
    names = set(names_of(app)) - {"Close the review", "Practise this phrase"}
    seen, hidden, here = set(), [], focused(app)
    for _ in range(len(names) + 3):
        here = tab(app, here)
        if here in names:
            seen.add(here)
            if not wait_for(lambda: whole(stand, place_of(app, here)), 2):
                hidden.append((here, place_of(app, here)))
    check("small: every control is come to", seen == names, names - seen)
    check("small: none is hidden while it has the focus", not hidden, hidden)
    check("small: the picture keeps its part", stand.height() >= 150, stand.height())
    stand.end()


def place_of(app, name):
    """Where the control of that name is that has the focus."""
    from gi.repository import Atspi
    app.clear_cache()
    boxes = (n.get_component_iface().get_extents(Atspi.CoordType.WINDOW) for n in walk(app)
             if n.get_name() == name and n.get_state_set().contains(Atspi.StateType.FOCUSED))
    return next(((b.x, b.y, b.width, b.height) for b in boxes), None)


def whole(stand, place):
    """Whether it is seen below the picture, nothing of it cut."""
    return place and (place[0] >= 0 and place[0] + place[2] <= 480 and place[1] >= stand.height() - 1 and
                      place[1] + place[3] <= 360)


def check_pedals(folder):
    """A pedal or a low key of the keyboard takes the next left hand, as it was chosen; the sustaining pedal never."""
    for chosen, takes, leaves in ((1, [0xB0, 67, 127, 0xB0, 67, 0], [0xB0, 64, 127, 0xB0, 64, 0, 0xB0, 66, 127, 0xB0, 66, 0]),
                                  (2, [0xB0, 66, 127, 0xB0, 66, 0], [0xB0, 67, 127, 0xB0, 67, 0]),
                                  (3, [0x90, 21, 80, 0x80, 21, 0], [0x90, 36, 80, 0x80, 36, 0]),
                                  (4, [0x90, 36, 80, 0x80, 36, 0], [0xB0, 67, 127, 0xB0, 67, 0])):
        remember(folder, "pedal=%d" % chosen, "left-hand=2")
        stand = Stand(program, folder, "--from", "-", stdin=subprocess.PIPE)
        for data, left_hand in ((leaves, "2"), (takes, "3"), (takes, "4")):
            stand.process.stdin.write(bytes(data))
            stand.process.stdin.flush()
            good = wait_for(lambda: remembered(folder)["left-hand"] == left_hand, 3)
            time.sleep(0.7 if data is leaves else 0)
            check("choice %d, after %s" % (chosen, data), good and remembered(folder)["left-hand"] == left_hand,
                  (left_hand, remembered(folder)["left-hand"]))
        stand.process.stdin.close()
        stand.ends_well()


def check_full_screen(folder):
    """Needs somebody who manages windows."""
    if not shutil.which("openbox"):
        print("full screen not checked: no openbox")
        return
    manager = subprocess.Popen(["openbox", "--sm-disable"], stderr=subprocess.DEVNULL)
    try:
        check("windows are managed", wait_for(lambda: subprocess.run(["xdotool", "get_num_desktops"], capture_output=True)
                                              .returncode == 0, 20))
        stand = Stand(program, folder, "--full-screen")
        check("the whole screen from the start", wait_for(lambda: size(stand)[0] == 1920), size(stand))
        do("key", "F9")
        check("and all of it the picture", wait_for(lambda: size(stand) == (1920, 1080)), size(stand))
        do("key", "F11")
        check("F11 makes it a window", wait_for(lambda: size(stand)[0] == 1280), size(stand))
        do("key", "F9")
        do("key", "alt+m")
        time.sleep(0.3)
        do("key", "alt+f")
        check("the button gives the whole screen", wait_for(lambda: size(stand)[0] == 1920), size(stand))
        stand.end()
    finally:
        manager.terminate()
        manager.wait()


def size(stand):
    return tuple(map(int, re.match(r"box paper solid 0,0 (\d+)x(\d+)", stand.dump()).groups()))


def sounds(stand, key):
    do("keydown", key)
    heard = wait_for(lambda: stand.marks("right"), 2)
    do("keyup", key)
    wait_for(lambda: not stand.marks("right"), 2)
    return heard


def check_letters(folder):
    """Letters with Alt press a button and do not sound; no letter stands for two of them, and none without Alt
    does anything but sound."""
    source = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "src", "app")
    letters = []
    for name in ("stand_controls.c", "stand_review.c"):
        with open(os.path.join(source, name), encoding="utf-8") as f:
            letters += [letter.lower() for letter in re.findall(r'(?:button|toggle|labelled)\(.*"[A-Za-z ]*_([A-Za-z])', f.read())]
    check("each letter once", len(letters) == len(set(letters)) >= 9, sorted(letters))
    stand = Stand(program, folder)
    for letter in sorted(set(letters) - set("ofs")):  # these open other windows
        do("keydown", "alt", "keydown", letter)
        time.sleep(0.1)
        check("Alt and %s sounds" % letter, not stand.marks("right"))
        do("keyup", letter, "keyup", "alt")
        time.sleep(0.35)  # a button that a letter presses stays down for a quarter of a second
        do("key", "Escape")
    do("key", "F9")  # whatever has been hidden
    for key in "zxcvbnmsdghjqwertyuiop2356790":
        check("%s sounds" % key, sounds(stand, key))
    stand.end()


def check_open(folder):
    """A tune opened by the keyboard alone; playing its beginning shows its name."""
    stand = Stand(program, folder)
    name_file(stand, "alt+o", None, os.path.join(os.path.abspath(demo_songs), "two-bells.abc"))
    do("windowfocus", stand.window)
    time.sleep(0.5)
    stand.play("zzbbzzbb", 0.5)  # two bells: the first and the fifth step
    check("its name is shown", wait_for(lambda: '"Two Bells"' in stand.dump()), stand.dump())
    stand.ends_well()
    check("the tune is remembered", remembered(folder)["tune"].endswith("two-bells.abc"))


def check_sheet(folder):
    """The sheet of the open tune, with the left hand that is chosen: what the command `sheet` writes."""
    tune, out, same = os.path.join(demo_songs, "two-bells.abc"), os.path.join(folder, "home.txt"), os.path.join(folder, "same.txt")
    stand = Stand(program, folder)
    do("key", "alt+e")
    check("without a tune it is asked for", wait_for(lambda: 'message "open a tune first' in stand.dump()), stand.dump()[-200:])
    stand.end()
    remember(folder, "left-hand=2")
    stand = Stand(program, folder, "--tune", tune)
    save_sheet(stand, out)
    check("written", wait_for(lambda: 'message "the sheet is written' in stand.dump(), 10), stand.dump()[-200:])
    subprocess.run([program, "sheet", "--to", same, "--texture", "fifths", "--fingering", tune], check=True)
    with open(out) as a, open(same) as b:
        check("as the command writes it", a.read() == b.read())
    time.sleep(2.2)  # lines that come together are shown together
    save_sheet(stand, "/proc/home.txt")
    check("what fails is said", wait_for(lambda: re.search('message ".*/proc/home.txt', stand.dump()), 5), stand.dump()[-200:])
    stand.ends_well()


def check_folders(folder):
    """A dialog begins in the user's folder for music, and later where a file was last opened or saved."""
    music, lessons, gone = (os.path.join(folder, name) for name in ("tunes", "lessons", "gone"))
    for each in (music, lessons, gone):
        os.mkdir(each)
    shutil.copy(os.path.join(demo_songs, "two-bells.abc"), lessons)
    with open(os.path.join(folder, "user-dirs.dirs"), "w") as f:
        f.write('XDG_MUSIC_DIR="$HOME/tunes"\n')
    stand = Stand(program, folder, "--tune", os.path.join(demo_songs, "two-bells.abc"))
    for path, written in (("first.txt", music), (os.path.join(lessons, "second.txt"), lessons), ("third.txt", lessons)):
        save_sheet(stand, path)
        whole = os.path.join(written, os.path.basename(path))
        check("written: " + whole, wait_for(lambda: os.path.exists(whole), 10), stand.dump()[-200:])
        wait_for(lambda: 'message "the sheet is written' in stand.dump())
    stand.end()
    stand = Stand(program, folder)
    name_file(stand, "alt+o", "ctrl+l", "two-bells.abc")
    check("another day it is the same folder",
          wait_for(lambda: remembered(folder)["tune"] == os.path.join(lessons, "two-bells.abc"), 5), remembered(folder)["tune"])
    save_sheet(stand, os.path.join(gone, "third.txt"))
    check("written elsewhere", wait_for(lambda: os.path.exists(os.path.join(gone, "third.txt")), 10), stand.dump()[-200:])
    shutil.rmtree(gone)
    save_sheet(stand, "fourth.txt")
    check("where that folder is gone, the one for music", wait_for(lambda: os.path.exists(os.path.join(music, "fourth.txt")), 10),
          stand.dump()[-200:])
    stand.ends_well()


def check_copy(folder):
    """A copy of what was played is a MIDI file by its name too, and takes no other file's place unasked."""
    first, second = os.path.join(folder, "monday"), os.path.join(folder, "Tuesday.MID")
    stand = Stand(program, folder)
    do("key", "alt+m")
    stand.play("zxcv")
    name_file(stand, "alt+s", "ctrl+a", first)
    check("the name gets its ending", wait_for(lambda: os.path.exists(first + ".mid")) and not os.path.exists(first),
          os.listdir(folder))
    check("it is told", wait_for(lambda: "monday.mid" in stand.dump()), stand.dump()[-200:])
    name_file(stand, "alt+s", "ctrl+a", second)
    check("one that has it keeps it", wait_for(lambda: os.path.exists(second)), os.listdir(folder))
    with open(first + ".mid", "w") as f:
        f.write("another")
    time.sleep(2.2)  # lines that come together are shown together
    name_file(stand, "alt+s", "ctrl+a", first)
    check("a file that was not asked about is left", wait_for(lambda: re.search('message ".*monday.mid.*exists', stand.dump())),
          stand.dump()[-200:])
    with open(first + ".mid") as f:
        check("it is as it was", f.read() == "another")
    stand.ends_well()


def save_sheet(stand, path):
    name_file(stand, "alt+e", "ctrl+a", path)


def name_file(stand, opens, select, path):
    """Opens a dialog and gives it a path, or a name in the folder that it shows."""
    do("windowfocus", stand.window)
    do("key", opens)
    dialog = wait_for(lambda: [w for w in windows() if w != stand.window], 5)
    check("a window to name the file", dialog)
    stand.dialogs += 1
    do("windowfocus", "--sync", dialog[-1])
    time.sleep(0.5)
    if select:
        do("key", select)
    do("type", "--delay", "20", path)
    time.sleep(0.3)
    do("key", "Return")
    check("it closes", wait_for(lambda: not [w for w in windows() if w != stand.window], 5))


def windows():
    return subprocess.run(["xdotool", "search", "--onlyvisible", "--name", "."], capture_output=True,
                          text=True).stdout.split()


sys.exit(run(program, check_walk, check_small, check_pedals, check_letters, check_open, check_sheet, check_folders, check_copy, check_full_screen))
