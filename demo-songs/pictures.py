#!/usr/bin/env python3
"""pictures.py PROGRAM [FOLDER]: makes the pictures of README.md anew into FOLDER, by default demo-songs/pictures: the
stand's window on a screen of its own (Xvfb), a sheet (lilypond) and a review.  After a change to what they show."""
import os, struct, subprocess, sys, tempfile, time, zlib

here = os.path.dirname(os.path.abspath(__file__))
program = os.path.abspath(sys.argv[1])
sys.path.insert(0, os.path.join(here, "..", "tests"))
from on_screen import start_screen
to = os.path.abspath(sys.argv[2] if len(sys.argv) > 2 else os.path.join(here, "pictures"))


def run(*words):
    subprocess.run([program, *words], cwd=here, check=True)


def png_of_screen(xwd):
    """The screen that Xvfb keeps in a file (X11's XWDFile.h, 32 bits a pixel), as a PNG."""
    size, _, _, _, width, height = struct.unpack(">6I", xwd[:24])
    line_bytes, colours = struct.unpack(">I", xwd[48:52])[0], struct.unpack(">I", xwd[76:80])[0]
    pixels, rows = xwd[size + 12 * colours:], []
    for y in range(height):
        line = pixels[y * line_bytes:y * line_bytes + 4 * width]
        rgb = bytearray(3 * width)
        rgb[0::3], rgb[1::3], rgb[2::3] = line[2::4], line[1::4], line[0::4]
        rows.append(b"\0" + bytes(rgb))
    chunk = lambda kind, data: struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
    return (b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)) +
            chunk(b"IDAT", zlib.compress(b"".join(rows), 9)) + chunk(b"IEND", b""))


def window(path):
    with tempfile.TemporaryDirectory() as home:
        screen, display = start_screen("1280x720x24", "-fbdir", home)
        env = dict(os.environ, DISPLAY=display, GDK_BACKEND="x11", GSK_RENDERER="cairo", HOME=home, XDG_DATA_HOME=home,
                   XDG_CONFIG_HOME=home, XDG_RUNTIME_DIR=home)
        stand = subprocess.Popen([program, "stand", "--from", "net-menders.mid", "--audio", "dummy", "--theme", "light", "--size",
                                  "1280x720"], cwd=here, env=env, stderr=subprocess.DEVNULL)
        time.sleep(14)  # so far into the tune
        with open(os.path.join(home, "Xvfb_screen0"), "rb") as f, open(path, "wb") as out:
            out.write(png_of_screen(f.read()))
        stand.terminate()
        stand.wait()
        screen.terminate()
        screen.wait()


os.makedirs(to, exist_ok=True)
run("sheet", "--keys", "F", "--fingering", "--texture", "fifths", "--format", "png", "--to", os.path.join(to, "sheet.png"),
    "breakwater-lamp.abc")
run("review", "--tune", "breakwater-lamp.abc", "--format", "png", "--to", os.path.join(to, "review.png"), "breakwater-lamp.mid")
window(os.path.join(to, "window.png"))
