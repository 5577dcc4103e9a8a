#!/usr/bin/env python3
"""stand_display.py PROGRAM: the screen is lost while somebody plays - an X server that is killed, and a Wayland compositor
where one is installed: nothing goes on sounding, what was played is kept, and one line says what happened."""
import os, shutil, subprocess, sys, tempfile, time
import mido
from listening import heard_until, parse, silent_end, still_down, strikes
from on_screen import check, do, run, start_screen, wait_for

program = sys.argv[1]
TUNE = [60, 64, 67, 64]


def begin(folder, *words, **env):
    env = dict(os.environ, GTK_A11Y="none", **env)
    return subprocess.Popen([program, "stand", "--audio", "dummy", "--to", "-", *words], env=env, bufsize=0,
                            stdout=subprocess.PIPE, stderr=subprocess.PIPE)


def focus(what, stand):
    """Whether its window is there, with the keys; else it is ended."""
    ids = wait_for(lambda: subprocess.run(["xdotool", "search", "--onlyvisible", "--name", "undersong"],
                                          capture_output=True, text=True).stdout.split(), 30)
    if not ids:
        ended = stand.poll()
        stand.kill()
        check(what + ": a window comes", False, (ended, stand.communicate()[1]))
        return False
    do("windowfocus", ids[-1])
    time.sleep(0.5)
    return True


def lose(what, stand, server, heard):
    """Kills the server while notes sound."""
    check(what + ": notes sound", still_down(parse(heard)), parse(heard))
    server.kill()
    server.wait()
    try:
        rest, said = stand.communicate(timeout=15)
    except subprocess.TimeoutExpired:
        stand.kill()
        rest, said = stand.communicate()
        check(what + ": it ends", False)
    messages = parse(heard + rest)
    check(what + ": silence", silent_end(messages), messages)
    check(what + ": one line", said.count(b"\n") == 1 and b"screen was lost" in said and stand.returncode == 1,
          (stand.returncode, said))
    return messages


def check_x(folder):
    server, display = start_screen()
    usual, os.environ["DISPLAY"] = os.environ["DISPLAY"], display
    try:
        stand = begin(folder)
        if not focus("X", stand):
            return
        for key in "zbmb":
            do("keydown", key)
            time.sleep(0.25)
            do("keyup", key)
        do("keydown", "z")
        heard = heard_until(stand.stdout, lambda messages: len(strikes(messages, 0)) == 5)
        played = strikes(lose("X", stand, server, heard), 0)
    finally:
        os.environ["DISPLAY"] = usual
        server.kill()
        server.wait()
    sessions = os.path.join(folder, "undersong", "sessions")
    kept = [mido.MidiFile(os.path.join(sessions, name)) for name in os.listdir(sessions)]
    check("X: kept", [strikes(mido.merge_tracks(k.tracks), 0) for k in kept] == [played], (kept, played))
    check("X: each kept note has its end", kept and not still_down(mido.merge_tracks(kept[0].tracks)))


def check_wayland(folder):
    if not shutil.which("weston"):
        print("Wayland not checked: no weston")
        return
    song, out = os.path.join(folder, "song.mid"), os.path.join(folder, "out.mid")
    track = mido.MidiTrack()
    for note in TUNE * 8:
        track.append(mido.Message("note_on", note=note, velocity=80, time=10))
        track.append(mido.Message("note_off", note=note, time=470))
    mido.MidiFile(tracks=[track], ticks_per_beat=480).save(song)
    with tempfile.TemporaryDirectory() as place:
        os.chmod(place, 0o700)
        env = {k: v for k, v in os.environ.items() if k != "DISPLAY"}
        server = subprocess.Popen(["weston", "--backend=headless-backend.so", "--socket=stand", "--idle-time=0"],
                                  env=dict(env, XDG_RUNTIME_DIR=place), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        if not wait_for(lambda: os.path.exists(os.path.join(place, "stand")), 10):
            server.kill()
            print("Wayland not checked: weston does not start here")
            return
        stand = begin(folder, "--from", song, "--to", out, XDG_RUNTIME_DIR=place, WAYLAND_DISPLAY="stand",
                      GDK_BACKEND="wayland", DISPLAY="")
        heard = heard_until(stand.stdout, lambda messages: len(strikes(messages, 0)) >= 5 and still_down(messages))
        messages = lose("Wayland", stand, server, heard)
    written = mido.merge_tracks(mido.MidiFile(out).tracks)
    check("Wayland: the file is whole", strikes(written, 0) == strikes(messages, 0) and not still_down(written), written)


def check_reader_gone(folder):
    """Nobody reads standard output any more: it ends by itself, as `play` does."""
    stand = begin(folder)
    if not focus("without a reader", stand):
        return
    stand.stdout.close()
    do("key", "z")
    try:
        status = stand.wait(10)
    except subprocess.TimeoutExpired:
        stand.kill()
        status = "none: killed"
    check("without a reader it ends well", status == 0, (status, stand.stderr.read()))


sys.exit(run(program, check_x, check_reader_gone, check_wayland))
