#!/usr/bin/env python3
"""judge.py FOLDER PROGRAM PATCH: looks at what the guest has left, prints one TAP line a check."""
import array, glob, os, re, subprocess, sys, wave
import mido
from melody import NOTES

folder, program, patch = sys.argv[1:4]
HELD_US, LISTENED_US = 150000, 100000  # seqtool's: how long a note is held, and how long an answer is waited for
count = bad = 0


def check(what, good, more=""):
    global count, bad
    count += 1
    bad += not good
    print(f"{'ok' if good else 'not ok'} {count} - {what}{' # ' + str(more) if more != '' else ''}")


def text(name):
    try:
        return open(os.path.join(folder, name), errors="replace").read()
    except FileNotFoundError:
        return ""


def rows(name):
    return [line.split() for line in text(name).splitlines() if line]


def down_after(events):
    down = set()
    for kind, channel, pitch in events:
        (down.add if kind == "on" else down.discard)((channel, pitch))
    return down


def of_rows(lines):
    return [(r[1], int(r[2]), int(r[3])) for r in lines if r[1] in ("on", "off")]


def of_messages(messages):
    return [("on" if m.type == "note_on" and m.velocity else "off", m.channel, m.note) for m in messages
            if m.type in ("note_on", "note_off")]


def ended_well(name):
    check(f"{name}: exit status 0", text(f"{name}.status").strip() == "0", text(f"{name}.err").strip()[-200:])


def melody():
    path = os.path.join(folder, "melody.mid")
    events = of_messages(mido.MidiFile(path)) if os.path.exists(path) else []
    played = [e[2] for e in events if e[0] == "on" and e[1] == 0]
    left = [e[2] for e in events if e[0] == "on" and e[1] == 1]
    check("melody: passed on as aplaymidi played it", played == NOTES, played)
    check("melody: a left hand below it, recorded by arecordmidi", len(left) >= 6 and max(left, default=99) < 60, left)
    check("melody: nothing sounds at the end", events and not down_after(events))
    ended_well("melody")


def raw():
    data = bytes(int(x, 16) for x in re.findall(r"[0-9A-F]{2}", text("raw.hex")))
    parser = mido.Parser()
    parser.feed(data)
    messages = list(parser)
    events = of_messages(messages)
    check("raw MIDI: note and left hand", ("on", 0, 60) in events and any(e[0] == "on" and e[1] == 1 for e in events),
          events)
    check("raw MIDI: released, CC 123 on three channels", not down_after(events) and
          {m.channel for m in messages if m.type == "control_change" and m.control == 123} == {0, 1, 2})
    ended_well("raw")


def vanish():
    box = rows("box.txt")
    held = of_rows(box)
    cut = next((i for i, e in enumerate(held) if e == ("on", 0, 64)), len(held))
    check("vanished keyboard: its note sounded and was released", ("on", 0, 60) in held and not down_after(held[:cut]),
          held)
    back = re.search(r"subscribed after (\d+)", text("piano2.txt"))
    check("returned keyboard: taken up within two seconds", back and int(back.group(1)) <= 2000,
          back and back.group(1) + " ms")
    check("returned keyboard: plays", ("on", 0, 64) in held)
    numbers = [re.search(r"client (\d+)", text(name)) for name in ("box.txt", "stranger.txt")]
    check("the stranger has the lost output's number", all(numbers) and numbers[0].group(1) == numbers[1].group(1),
          [n and n.group(1) for n in numbers])
    check("the stranger gets nothing", of_rows(rows("stranger.txt")) == [] and "cc" not in text("stranger.txt"),
          text("stranger.txt")[:200])
    held = of_rows(rows("box2.txt"))
    check("returned output: plays and is silent at the end", ("on", 0, 72) in held and not down_after(held), held)
    said = text("vanish.err")
    check("the player is told", all(w in said for w in ("Old Piano is gone", "Old Piano is back", "Sound Box is gone",
                                                       "Sound Box is back")), said)
    kept = of_messages(mido.MidiFile(os.path.join(folder, "vanish.mid")))
    check("all that was played is kept, each note with its end", [e[2] for e in kept if e[:2] == ("on", 0)] == [60, 64, 67, 72]
          and not down_after(kept), kept)
    ended_well("vanish")


def flood():
    events = of_rows(rows("flood.txt"))
    on = sum(1 for e in events if e[0] == "on" and e[1] == 0)
    check("flood: every note is passed on, or what was lost is said and released", on == 5000 or
          "released" in text("flood.err") or "left out" in text("flood.err"),
          f"{on} of 5000; {text('flood.sent').strip()}")
    check("flood: nothing sounds at the end", on > 100 and not down_after(events), down_after(events))
    ended_well("flood")


def clock():
    lines = rows("clock.txt")
    kinds = [r[1] for r in lines]
    clocks = kinds.count("clock")
    first = next((k for k in kinds if k in ("clock", "start", "stop")), None)
    # eight quarters at 24 clocks (MIDI 1.0); the beat has to be found first, and the last is not filled up
    check("clock: start comes first, about 24 clocks a quarter", first == "start" and 4 * 24 <= clocks <= 9 * 24, clocks)
    check("clock: stopped at the end", "stop" in kinds)
    one, other = of_rows(lines), of_rows(rows("second.txt"))
    check("two outputs get the same notes", one == other and len(one) > 16 and not down_after(one), (one, other))
    ended_well("clock")


def own():
    events = of_rows(rows("own.txt"))
    check("its own notes are not sent back to an instrument, the left hand is", {e[1] for e in events} == {1} and
          not down_after(events), events)
    check("that is told", "sounds your notes itself" in text("own.err"), text("own.err"))
    ended_well("own")


def sound():
    """The loopback card's other end was recorded; the rig's ears judge it."""
    if not text("alsa.status"):
        print("# no sound through ALSA: a build without sound")
        return
    ended_well("alsa")
    listen = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "rig", "listen.py")
    heard = subprocess.run([sys.executable, listen, os.path.join(folder, "alsa.wav"), ",".join(map(str, NOTES))],
                           capture_output=True, text=True)
    check("sound through ALSA: pitches and level", heard.returncode == 0, heard.stdout.replace("\n", "; "))
    check("ports lists the card", "alsa" in text("cards.log"), text("cards.log")[-300:])


def taken():
    """The card was unbound from its driver while it sounded, as by a plug that is pulled, and bound again."""
    if not text("taken.status"):
        return
    ended_well("taken")
    said = text("taken.err")
    check("card taken away: told once, and that it sounds again", said.count("is lost") == 1 and
          said.count("sound again") == 1, said)
    with wave.open(os.path.join(folder, "taken.wav")) as w:
        samples = array.array("h", w.readframes(w.getnframes()))
    check("card taken away: it sounds again", max(map(abs, samples), default=0) > 500, len(samples))


def percentile(times, share):
    times = sorted(times)
    return times[min(int(share * len(times)), len(times) - 1)]


class Sent:
    """A note that was sent, and how long after it the first and the third note of the answer came; -1: none did.  All times
    in microseconds."""
    def __init__(self, row):
        self.pitch, self.at, self.first, self.third = map(int, row)


def runs_of(notes):
    """Each begins anew with the time nought."""
    begins = [i for i, note in enumerate(notes) if note.at == 0]
    return [notes[a:b] for a, b in zip(begins, begins[1:] + [len(notes)])]


def write_run(run, path):
    events = sorted(e for n in run for e in ((n.at, "note_on", n.pitch), (n.at + HELD_US, "note_off", n.pitch)))
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=20000)])
    for before, (at, kind, pitch) in zip([0] + [e[0] for e in events], events):
        track.append(mido.Message(kind, note=pitch, velocity=90, time=at - before))
    mido.MidiFile(tracks=[track], ticks_per_beat=20000).save(path)  # a tick is a microsecond


def answered(run):
    """Which notes of the run the left hand answers: what the program plays to the same notes in virtual time."""
    heard, played = (os.path.join(folder, name) for name in ("heard.mid", "played.mid"))
    write_run(run, heard)
    subprocess.run([program, "play", "--patch", patch, "--key", "C", "--metre", "4/4", "--keep", "no", "--built-in", "--quiet",
                    "--change", "beat", "--from", heard, "--to", played, "--virtual-time"], check=True)
    now, struck = 0.0, []
    for message in mido.MidiFile(played):
        now += message.time * 1e6
        if message.type == "note_on" and message.velocity and message.channel == 1:
            struck.append(now)
    return [any(-1000 < at - n.at < LISTENED_US for at in struck) for n in run]


def latency():
    """How long it takes is a figure, not a check: note in to the first note of the answer (the left hand's, where it
    strikes one).  That each answer comes is checked."""
    figures = {}
    for name, words in (("echo", "a bare echo on PortTime's thread"), ("echoloop", "a bare echo in a loop"),
                        ("answer", "the left hand")):
        got = [Sent(row) for row in rows(f"{name}.txt") if row[-1] != "lost"]
        first, third = ([t for t in times if t >= 0] for times in ([n.first for n in got], [n.third for n in got]))
        figures[name] = (percentile(first, 0.5), percentile(first, 0.99))
        print(f"# {words}: {len(first)} of {len(got)} notes, first note {figures[name][0] / 1000:.2f} ms (99 % "
              f"{figures[name][1] / 1000:.2f}), third {percentile(third, 0.5) / 1000:.2f} ms")
        if name == "answer":
            wanted = [answer for run in runs_of(got) for answer in answered(run)]
            other = [i for i, n in enumerate(got) if (n.first >= 0) != wanted[i]]
            check("the left hand answers the notes that it answers in virtual time, and no others", any(wanted) and not other,
                  f"{sum(wanted)} of {len(got)}; otherwise: {other}")
        else:
            check(f"{words} answers each note with three", len(got) == len(first) == len(third) > 0, len(got) - len(third))
    for name in ("echo", "echoloop"):
        print(f"# the left hand to {name}: median {figures['answer'][0] / figures[name][0]:.2f}, 99 % "
              f"{figures['answer'][1] / figures[name][1]:.2f} (figures, not checks)")


check("the guest came to its end", os.path.exists(os.path.join(folder, "finished")))
unread = [os.path.basename(path) for path in glob.glob(os.path.join(folder, "*.txt")) if " lost\n" in open(path).read()]
check("the players in the guest read all that they were sent", not unread, unread)
check("ports lists the sequencer's ports", "Midi Through Port-0" in text("ports.log"), text("ports.log")[:300])
for part in (melody, raw, vanish, flood, clock, own, sound, taken, latency):
    try:
        part()
    except Exception as error:  # a missing or broken file is a failed check, not the end of the others
        check(f"{part.__name__}: {error!r}", False)
print(f"1..{count}")
sys.exit(1 if bad else 0)
