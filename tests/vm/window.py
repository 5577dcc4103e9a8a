#!/usr/bin/env python3
"""window.py PROGRAM SEQTOOL: runs in the virtual machine: keyboards and instruments of the ALSA sequencer come and go,
and the real window's lists follow; a keyboard that has come back plays again."""
import os, re, subprocess, sys, time
sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), ".."))
import on_screen
from on_screen import Stand, check, do, run

program, seqtool = sys.argv[1:3]
INPUT, OUTPUT = "play on", "send MIDI to"
FIRST, NONE = "the first MIDI keyboard", "computer keys and mouse"
SLOW = 12  # times slower, at most: an emulated processor
in_time = on_screen.wait_for


def wait_for(good, seconds=5.0):
    return in_time(good, seconds * SLOW)


class Port:
    """A port of the sequencer with its own program behind it."""
    def __init__(self, name):
        self.process = subprocess.Popen([seqtool, "port", name], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)

    def say(self, *lines):
        for line in lines:
            self.process.stdin.write(line + "\n")
        self.process.stdin.flush()

    def unplug(self):
        self.process.kill()
        return self.process.communicate()[0]


def right(stand):
    return len(stand.marks("right"))


class Lists:
    """The two lists of ports: what they offer is in the dump, rows are chosen by the computer's keyboard.  (The
    accessibility tree would tell it too, but asking it takes minutes here.)"""
    def __init__(self, stand):
        self.stand = stand
        before = stand.height()
        do("windowfocus", stand.window, "key", "alt+m")
        check("more controls", wait_for(lambda: stand.height() < before))
        for _ in range(40):
            if self.focused(INPUT):
                break
            do("key", "Tab")
            in_time(lambda: self.focused(INPUT), 2)
        check("Tab leads to the list of inputs", self.focused(INPUT), stand.dump()[-400:])

    def focused(self, caption):
        return 'list "%s" focused' % caption in self.stand.dump()

    def offered(self, caption):
        line = re.search(r'^list "%s"(?: focused)? (.*)$' % caption, self.stand.dump(), re.M)
        return re.findall(r'\*?"([^"]*)"', line.group(1)) if line else []

    def chosen(self, caption):
        line = re.search(r'^list "%s".*\*"([^"]*)"' % caption, self.stand.dump(), re.M)
        return line and line.group(1)

    def choose(self, caption, name):
        if not self.focused(caption):
            do("key", "Tab" if caption == OUTPUT else "shift+Tab")  # neighbours
        check("the list has the focus", wait_for(lambda: self.focused(caption)), self.stand.dump()[-400:])
        do("key", "space")
        time.sleep(4)
        rows = self.offered(caption)
        by = rows.index(name) - rows.index(self.chosen(caption))
        do(*["key"] + ["Down" if by > 0 else "Up"] * abs(by))
        do("key", "Return")


def step(what):
    print("# %.0f s: %s" % (time.monotonic(), what), flush=True)


def message(stand):
    return re.findall(r'^message "(.*)"', stand.dump(), re.M)


def plays(stand, port, pitch, what):
    """The port's notes are on the window's keys."""
    port.say("wait", "on %d 90" % pitch)
    check(what, wait_for(lambda: right(stand) == 1), message(stand))
    port.say("off %d" % pitch)
    check("and the key comes up", wait_for(lambda: right(stand) == 0), stand.marks("right"))


def check_inputs(stand, lists):
    step("no keyboard yet")
    before = lists.offered(INPUT)
    check("none is offered", before[:2] == [FIRST, NONE] and "Old Piano" not in before, before)
    step("a keyboard is plugged in")
    piano = Port("Old Piano")
    check("it is offered", wait_for(lambda: "Old Piano" in lists.offered(INPUT)), lists.offered(INPUT))
    plays(stand, piano, 60, "the first keyboard that comes is taken up")
    step("it is unplugged with a key down")
    piano.say("on 62 90")
    check("a key is down", wait_for(lambda: right(stand) == 1))
    piano.unplug()
    check("its note ends", wait_for(lambda: right(stand) == 0), stand.marks("right"))
    check("it is offered no more", wait_for(lambda: lists.offered(INPUT) == before), lists.offered(INPUT))
    step("it is plugged in again")
    piano = Port("Old Piano")
    check("it is offered again", wait_for(lambda: "Old Piano" in lists.offered(INPUT)), lists.offered(INPUT))
    plays(stand, piano, 64, "it is taken up again")
    step("another keyboard is chosen")
    organ = Port("Organ")
    check("both are offered", wait_for(lambda: {"Old Piano", "Organ"} <= set(lists.offered(INPUT))), lists.offered(INPUT))
    lists.choose(INPUT, "Organ")
    check("it is chosen", wait_for(lambda: lists.chosen(INPUT) == "Organ"), lists.chosen(INPUT))
    plays(stand, organ, 67, "the other one plays")
    organ.unplug()
    away = "Organ, not there now"
    check("the list says that it is away", wait_for(lambda: lists.chosen(INPUT) == away), lists.offered(INPUT))
    organ = Port("Organ")
    check("and that it is back", wait_for(lambda: lists.chosen(INPUT) == "Organ" and away not in lists.offered(INPUT)),
          (lists.chosen(INPUT), lists.offered(INPUT), message(stand)))
    plays(stand, organ, 69, "then it plays")
    piano.unplug()
    return organ


def check_outputs(stand, lists, organ):
    step("an instrument is plugged in")
    box = Port("Sound Box")
    box.say("sleep 60000")
    check("it is offered", wait_for(lambda: "Sound Box" in lists.offered(OUTPUT)), lists.offered(OUTPUT))
    lists.choose(OUTPUT, "Sound Box")
    check("it is chosen", wait_for(lambda: lists.chosen(OUTPUT) == "Sound Box"), lists.chosen(OUTPUT))
    plays(stand, organ, 72, "a note")
    heard = box.unplug()
    check("it was sent the note, and its end", " on 0 72 " in heard and " off 0 72 " in heard, heard)
    check("the list says that it is away", wait_for(lambda: lists.chosen(OUTPUT) == "Sound Box, not there now"),
          lists.offered(OUTPUT))


def check_hot_plug(folder):
    os.environ["GTK_A11Y"] = "none"
    step("the window opens")
    stand = Stand(program, folder)
    check("a first picture", wait_for(stand.dump))
    lists = Lists(stand)
    organ = check_inputs(stand, lists)
    check_outputs(stand, lists, organ)
    organ.unplug()
    step("the window closes")
    status, errors = stand.end()
    check("it ends well", status == 0 and "CRITICAL" not in errors and "WARNING" not in errors, (status, errors))


on_screen.wait_for = wait_for
sys.exit(run(program, check_hot_plug))
