#!/usr/bin/env python3
"""stand_review.py PROGRAM DEMO-SONGS: the review in the window: opened and closed by keys, read through the
accessibility tree."""
import os, re, subprocess, sys, time
from on_screen import Stand, accessible, check, do, key_middle, run, wait_for, walk

program, demo_songs = sys.argv[1:3]


def words(stand):
    """What a screen reader finds in the window: the texts of labels, buttons and pictures."""
    app = accessible(stand.process.pid)
    return [n.get_name() or "" for n in walk(app) if n.get_role_name() in ("label", "push button", "image")]


def reads(stand, what):
    return wait_for(lambda: any(what in " ".join(w.split()) for w in words(stand)), 10)


def notes_on_page(stand):
    return len(re.findall(r"^oval right solid", stand.dump(), re.M))


def check_empty(folder):
    stand = Stand(program, folder)
    do("key", "alt+m")
    do("key", "alt+r")
    check("nothing is kept yet", reads(stand, "Nothing is kept of this evening yet"), words(stand))
    do("key", "Escape")
    stand.play("zxcv")
    check("escape has closed it: the keys sound", wait_for(lambda: notes_on_page(stand) == 4), stand.dump())
    do("key", "alt+r")
    check("what was just played", reads(stand, "You played 4 notes"), words(stand))
    check("what is missing, in the window's words", reads(stand, "Open the tune that you practise"), words(stand))
    check("not in the command line's", not any("--" in w for w in words(stand)), words(stand))
    stand.play("zx", 0.3)
    do("key", "space")  # the focus is on the button that closes
    do("keydown", "z")
    check("keys of the computer sound when it is closed", wait_for(lambda: stand.marks("right")))
    check("and did not behind it", notes_on_page(stand) == 5, notes_on_page(stand))
    do("keyup", "z")
    for _ in range(20):  # nothing is left over from one time to the next
        do("key", "alt+r")
        time.sleep(0.35)  # a button that a letter presses stays down for a quarter of a second
        do("key", "Escape")
    do("keydown", "z")
    check("twenty times later it still plays", wait_for(lambda: stand.marks("right")))
    do("keyup", "z")
    stand.ends_well()


def check_tune(folder):
    sessions = os.path.join(folder, "undersong", "sessions")
    os.makedirs(sessions)
    subprocess.run([program, "play", "--from", os.path.join(demo_songs, "net-menders.mid"), "--to",
                    os.path.join(folder, "out.mid"), "--keep", os.path.join(sessions, "evening.mid"),
                    "--virtual-time", "--quiet"], check=True)
    tune = os.path.join(demo_songs, "net-menders.abc")
    told = subprocess.run([program, "review", "--tune", tune], capture_output=True, text=True, check=True).stdout
    stand = Stand(program, folder, "--tune", tune)
    do("key", "alt+r")  # under More, which opens for it
    check("what went well", reads(stand, "notes were right") or reads(stand, "well done"), words(stand))
    check("the picture", reads(stand, "each time through the tune, bar by bar"), words(stand))
    app = accessible(stand.process.pid)
    high = wait_for(lambda: max((n.get_component_iface().get_extents(1).height for n in walk(app)
                                 if n.get_name() == "each time through the tune, bar by bar"), default=0))
    check("which has the room that it needs", high and high > 200, high)
    check("bar by bar", reads(stand, "Bar by bar"), words(stand))
    advice = told.split("What to practise next")[1].split()
    check("what to practise, as `review` says", reads(stand, " ".join(advice)), (advice, words(stand)))
    said = sum(" ".join(w.split()).count(" ".join(advice)) for w in words(stand))
    check("and once", said == 1, words(stand))
    check("the phrase can be practised at once", reads(stand, "Practise this phrase"), words(stand))
    do("key", "alt+p")
    bar = int(re.search(r"bars? (\d+)", " ".join(advice)).group(1))
    part = wait_for(lambda: re.search(r'"phrase \d+: bars (\d+) to (\d+)"', stand.dump()))
    check("then the window is there with the phrase that the bar is in",
          part and int(part.group(1)) <= bar <= int(part.group(2)), (bar, part))
    do("key", "alt+r")
    do("key", "Escape")
    stand.ends_well()


def check_another_tune(folder):
    """Where the tune changes while the review is shown, it is read anew: its phrases are those of the open tune."""
    sessions, tune = os.path.join(folder, "undersong", "sessions"), os.path.join(demo_songs, "net-menders.abc")
    os.makedirs(sessions)
    subprocess.run([program, "play", "--from", os.path.join(demo_songs, "net-menders.mid"), "--to",
                    os.path.join(folder, "out.mid"), "--keep", os.path.join(sessions, "evening.mid"),
                    "--virtual-time", "--quiet"], check=True)
    stand = Stand(program, folder, "--tune", tune)
    do("key", "alt+r")
    check("a phrase can be practised", reads(stand, "Practise this phrase"), words(stand))
    do("key", "alt+b")
    check("the page is not of the tune that was open", reads(stand, "Which tune it was is not known"), words(stand))
    check("and there is no phrase to practise", "Practise this phrase" not in words(stand), words(stand))
    status, errors = stand.end()
    check("it ends well", status == 0 and "CRITICAL" not in errors, (status, errors))


def check_held_key(folder):
    """A drawn key that is held down when the review takes the picture's place: its note ends, as nobody sees it let go."""
    stand = Stand(program, folder)
    do("mousemove", *map(str, key_middle(stand.dump(), 60)), "mousedown", "1")
    check("the mouse plays", wait_for(lambda: stand.marks("right")))
    do("key", "alt+r")
    check("the review is open", reads(stand, "Close the review"), words(stand))
    do("mouseup", "1", "key", "Escape")
    check("the note has ended", wait_for(lambda: not stand.marks("right")), stand.marks("right"))
    stand.ends_well()


sys.exit(run(program, check_empty, check_tune, check_another_tune, check_held_key))
