"""Our Standard MIDI Files beside other programs' reading and writing of them: python3-mido, and of abcmidi mftext
and midi2abc.  Skipped (77) only where these are not installed.

usage: smf_outside.py SMF_TOOL UNDERSONG DEMO_SONGS"""
import glob
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time

try:
    import mido
except ImportError:
    print("skipped: python3-mido is not installed")
    sys.exit(77)
if not shutil.which("mftext") or not shutil.which("midi2abc"):
    print("skipped: abcmidi is not installed")
    sys.exit(77)

TOOL, PROGRAM, SONGS = sys.argv[1:4]
FOLDER = tempfile.mkdtemp()
PATH = os.path.join(FOLDER, "t.mid")
END_OF_TRACK = 0x2F


def run(*command, **more):
    return subprocess.run(command, capture_output=True, text=True, **more)


def dump(path):
    """Our reading: (tick, ns, track, status, data1, data2, bytes)."""
    done = run(TOOL, "dump", path)
    assert done.returncode == 0, done.stderr
    head, *lines = done.stdout.splitlines()
    rows = []
    for line in lines:
        tick, ns, track, status, data1, data2, data = line.split(" ")
        rows.append((int(tick), int(ns), int(track), int(status, 16), int(data1), int(data2), data.rstrip(".")))
    return head, rows


def random_message(rng, kinds):
    kind = rng.choice(kinds)
    channel = rng.randrange(16)
    byte = lambda: rng.randrange(128)
    text = lambda: "".join(rng.choice("abcdef GHI") for _ in range(rng.choice((0, 1, 5, 127, 128, 200))))
    return {
        "on": lambda: mido.Message("note_on", channel=channel, note=byte(), velocity=byte()),
        "off": lambda: mido.Message("note_off", channel=channel, note=byte(), velocity=byte()),
        "poly": lambda: mido.Message("polytouch", channel=channel, note=byte(), value=byte()),
        "cc": lambda: mido.Message("control_change", channel=channel, control=byte(), value=byte()),
        "program": lambda: mido.Message("program_change", channel=channel, program=byte()),
        "pressure": lambda: mido.Message("aftertouch", channel=channel, value=byte()),
        "bend": lambda: mido.Message("pitchwheel", channel=channel, pitch=rng.randrange(-8192, 8192)),
        "sysex": lambda: mido.Message("sysex", data=[byte() for _ in range(rng.randrange(200))]),
        "tempo": lambda: mido.MetaMessage("set_tempo", tempo=rng.randrange(1, 1 << 24)),
        "metre": lambda: mido.MetaMessage("time_signature", numerator=rng.randrange(1, 32),
                                          denominator=1 << rng.randrange(6)),
        "key": lambda: mido.MetaMessage("key_signature", key=rng.choice(("C", "Ebm", "F#", "Abm", "Db", "A#m"))),
        "text": lambda: mido.MetaMessage("text", text=text()),
        "marker": lambda: mido.MetaMessage("marker", text=text()),
        "name": lambda: mido.MetaMessage("track_name", name=text()),
    }[kind]()


CHANNEL = ("on", "on", "on", "off", "off", "poly", "cc", "program", "pressure", "bend")
META = ("tempo", "metre", "key", "text", "marker", "name")


def fields(message):
    """A mido message as we give it: status, data1, data2, bytes."""
    raw = message.bytes()
    if message.is_meta:
        at = 2
        while raw[at] & 0x80:
            at += 1
        return 0xFF, raw[1], 0, bytes(raw[at + 1:]).hex()
    if raw[0] == 0xF0:
        return 0xF0, 0, 0, bytes(raw[1:]).hex()
    if raw[0] & 0xF0 == 0x90 and raw[2] == 0:
        return raw[0] & 0x8F, raw[1], 64, ""
    return raw[0], raw[1], raw[2] if len(raw) > 2 else 0, ""


def compare(path):
    """The file by mido and by us: the same events at the same ticks; formats 0 and 1 in the same seconds."""
    mid = mido.MidiFile(path)
    want = []
    for track, messages in enumerate(mid.tracks):
        tick = 0
        for message in messages:
            tick += message.time
            want.append((tick, track) + fields(message))
    head, rows = dump(path)
    assert head == f"format {mid.type} tracks {len(mid.tracks)} division {mid.ticks_per_beat}", head
    got = [(tick, track, *rest) for tick, _, track, *rest in rows]
    want.sort(key=lambda row: row[:2])
    assert got == want, next((g, w) for g, w in zip(got + [None], want + [None]) if g != w)
    tempo, base, seconds = 500000, 0, 0.0
    for tick, ns, _, status, data1, _, data in rows:
        at = seconds + mido.tick2second(tick - base, mid.ticks_per_beat, tempo)
        assert abs(at - ns / 1e9) < 1e-6 + at * 1e-9, (tick, at, ns)
        if status == 0xFF and data1 == 0x51:
            tempo, base, seconds = int(data[:6], 16), tick, at
    return mid


def test_reading():
    rng = random.Random(1)
    for _ in range(150):
        mid = mido.MidiFile(type=rng.choice((0, 1)), ticks_per_beat=rng.randrange(1, 32768))
        for _ in range(1 if mid.type == 0 else rng.randrange(1, 9)):
            track = mido.MidiTrack()
            for _ in range(rng.randrange(120)):
                message = random_message(rng, CHANNEL * 4 + META + ("sysex",))
                message.time = rng.choice((0, 0, 1, rng.randrange(128), rng.randrange(20000)))
                track.append(message)
            mid.tracks.append(track)
        mid.save(PATH)
        compare(PATH)
    return "150 random files of mido read alike"


def write_ours(lines):
    done = run(TOOL, "write", PATH, input="\n".join(lines) + "\n")
    assert done.returncode == 0, done.stderr


def accepted_by_abcmidi(path, sounding=False):
    """mftext and midi2abc read the file without an error or a complaint, but that notes still sound at its end."""
    for command in (("mftext", path), ("midi2abc", path)):
        done = run(*command, errors="replace")
        words = (done.stdout + done.stderr).lower()
        if sounding:
            words = words.replace("error in midi file - notes still on at end of track", "")
        assert done.returncode == 0, (command, done.returncode, done.stderr[-300:])
        for complaint in ("error", "unexpected", "premature", "didn't find", "eof", "bad "):
            assert complaint not in words, (command, complaint, words[words.index(complaint) - 80:][:200])


def test_writing():
    rng = random.Random(2)
    for _ in range(100):
        tracks = rng.randrange(1, 5)
        lines = [f"D {rng.randrange(24, 32768)}"] + ["T"] * tracks
        want = []
        for _ in range(rng.randrange(150)):
            tick, track = rng.choice((0, rng.randrange(1000), rng.randrange(1000000))), rng.randrange(tracks + 1)
            message = random_message(rng, META if track == 0 else CHANNEL)
            if message.type == "set_tempo":
                message = mido.MetaMessage("set_tempo", tempo=rng.randrange(200000, 2000000))
            status, data1, data2, data = fields(message)
            if not message.is_meta:
                status, data1, data2 = (message.bytes() + [0])[:3]
            lines.append(f"{tick} {track} {status:x} {data1} {data2} {data}")
            want.append((tick, track) + fields(message))
        write_ours(lines)
        mid = compare(PATH)
        got = []
        for number, track in enumerate(mid.tracks):
            tick = 0
            for message in track:
                tick += message.time
                if message.type != "end_of_track":
                    got.append((tick, number) + fields(message))
        assert sorted(got) == sorted(want)
    return "100 random files of ours read alike by mido"


def test_abcmidi():
    """Music as the program writes it: notes that end, signatures, numerals, beats."""
    rng = random.Random(3)
    for _ in range(20):
        lines = ["D 960", "T", "T", "T", "0 0 ff 81 0 07a120", "0 0 ff 88 0 03021808", "0 0 ff 89 0 0100"]
        at = 0
        for beat in range(rng.randrange(3, 60)):
            length = rng.choice((480, 960, 1440))
            for voice, pitch in ((0, rng.randrange(60, 80)), (1, rng.randrange(40, 56))):
                lines.append(f"{at} {voice + 1} {0x90 + voice:x} {pitch} 80 ")
                lines.append(f"{at + length} {voice + 1} {0x80 + voice:x} {pitch} 64 ")
            lines.append(f"{at} 0 ff 6 0 {rng.choice(('I', 'IV', 'V7')).encode().hex()}")
            lines.append(f"{at} 0 ff 1 0 {('beat' if beat % 3 else 'bar').encode().hex()}")
            at += length
        write_ours(lines)
        compare(PATH)
        accepted_by_abcmidi(PATH)
    return "20 files of ours read by mftext and midi2abc without complaint"


def notes_end(mid):
    """Each note-on has its note-off, on the same track and channel."""
    for track in mid.tracks:
        down = set()
        for message in track:
            if message.type == "note_on" and message.velocity:
                assert (message.channel, message.note) not in down
                down.add((message.channel, message.note))
            elif message.type in ("note_on", "note_off"):
                down.remove((message.channel, message.note))
        assert not down


def test_program():
    """What `play` and `harmonize` write: valid for all three, notes that end, a voice a track."""
    written = 0
    for number, song in enumerate(sorted(glob.glob(os.path.join(SONGS, "*.mid")))):
        second = ("none", "third", "round:2")[number % 3]
        command = (PROGRAM, "play", "--from", song, "--to", PATH, "--virtual-time", "--mark-beats",
                   "--second-voice", second)
        done = run(*command)
        assert done.returncode == 0, done.stderr
        mid = compare(PATH)
        assert mid.type == 1
        for track in mid.tracks:
            channels = {m.channel for m in track if not m.is_meta}
            assert len(channels) <= 1 and channels <= {0, 1, 2}, channels
        texts = {m.text for m in mid.tracks[0] if m.type == "text"}
        assert {"bar", "beat"} <= texts and any(m.type == "marker" for m in mid.tracks[0])
        notes_end(mid)
        accepted_by_abcmidi(PATH)
        with open(PATH, "wb") as out:
            done = subprocess.run((PROGRAM, "harmonize", "--format", "midi", song[:-4] + ".abc"), stdout=out)
        assert done.returncode == 0
        notes_end(compare(PATH))
        accepted_by_abcmidi(PATH)
        written += 2
    assert written >= 16
    return f"{written} files of play and harmonize read by mido, mftext and midi2abc without complaint"


def test_recorder():
    """Killed at any moment: mido and abcmidi read what was kept, all but the last second of it (two here, for
    a busy machine)."""
    rng = random.Random(4)
    for _ in range(6):
        player = subprocess.Popen([TOOL, "record", PATH], stdout=subprocess.PIPE, text=True)
        stamps, stop = [], None
        for line in player.stdout:
            stamps.append(time.monotonic())
            stop = stop or stamps[0] + rng.uniform(0, 3.5)
            if stamps[-1] >= stop:
                break
        player.send_signal(signal.SIGKILL)
        killed = time.monotonic()
        player.wait()
        player.stdout.close()
        mid = compare(PATH)
        kept = sum(m.type == "note_on" for track in mid.tracks for m in track)
        old = sum(stamp < killed - 2 for stamp in stamps)
        assert kept >= old, (kept, old)
        if kept:  # midi2abc wants notes
            accepted_by_abcmidi(PATH, sounding=True)
    return "6 recordings killed at random moments read by mido, mftext and midi2abc"


try:
    for number, test in enumerate((test_reading, test_writing, test_abcmidi, test_program, test_recorder), 1):
        print(f"ok {number} - {test()}", flush=True)
    print("1..5")
finally:
    shutil.rmtree(FOLDER)
