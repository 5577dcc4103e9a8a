#!/usr/bin/env python3
"""stand_files.py PROGRAM: tunes in the window, however long their path is and whatever the desktop's language."""
import configparser, os, shutil, subprocess, sys
from on_screen import Stand, check, run, text, wait_for

program = sys.argv[1]
ABC = """X:1
T:Two lines
M:3/4
L:1/4
Q:1/4=100.5
K:D
A|d2f|a2f|e2A|d2A|
d2f|b2g|e3-|e2|]
"""
PHRASE = '"phrase 2: bars 4 to 7"'


def check_long_path(folder):
    """The tune of another day, in a folder inside folders: it is held whole."""
    deep = os.path.join(folder, *["a-folder-with-quite-a-long-name-%02d" % i for i in range(20)])
    path, ini = os.path.join(deep, "lines.abc"), os.path.join(folder, "undersong", "stand.ini")
    os.makedirs(deep)
    os.makedirs(os.path.dirname(ini), exist_ok=True)
    with open(path, "w") as f:
        f.write(ABC)
    with open(ini, "w") as f:
        f.write(f"[stand]\ntune={path}\nfolder={deep}\nphrase=2\n")
    stand = Stand(program, folder)
    check("a tune with a long path is open", wait_for(lambda: PHRASE in stand.dump()), text(stand.dump(), "text"))
    stand.end()
    kept = configparser.ConfigParser()
    kept.read(ini)
    check("and is remembered", kept["stand"]["tune"] == path and kept["stand"]["folder"] == deep, dict(kept["stand"]))


def check_comma(folder):
    """Where the desktop writes 1,5 a tune still has 1.5 in it."""
    if not shutil.which("localedef") or not os.path.exists("/usr/share/i18n/locales/de_DE"):
        print("no locale can be made here: the comma is not tried")
        return
    subprocess.run(["localedef", "-i", "de_DE", "-f", "UTF-8", os.path.join(folder, "de_DE.UTF-8")], check=True)
    path = os.path.join(folder, "lines.abc")
    with open(path, "w") as f:
        f.write(ABC)
    os.makedirs(os.path.join(folder, "undersong"), exist_ok=True)
    with open(os.path.join(folder, "undersong", "stand.ini"), "w") as f:
        f.write(f"[stand]\ntune={path}\nphrase=2\n")
    os.environ.update(LOCPATH=folder, LC_ALL="de_DE.UTF-8")
    stand = Stand(program, folder)
    check("a tempo with a point is read", wait_for(lambda: PHRASE in stand.dump()), text(stand.dump(), "text"))
    stand.end()
    del os.environ["LOCPATH"]
    os.environ["LC_ALL"] = "C.UTF-8"


def check_lost_file(folder):
    """What could not be written is told also where the window has been closed."""
    stick = os.path.join(folder, "stick")
    os.mkdir(stick)
    stand = Stand(program, folder, "--to", os.path.join(stick, "evening.wav"))
    stand.play("zxc")
    shutil.rmtree(stick)
    status, errors = stand.end()
    check("a file that cannot be written is told", status == 1 and "evening.wav" in errors, (status, errors))


sys.exit(run(program, check_long_path, check_comma, check_lost_file))
