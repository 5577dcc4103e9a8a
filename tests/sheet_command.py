#!/usr/bin/env python3
"""sheet_command.py UNDERSONG: the command `sheet` from outside: one file, folders, bad files, no lilypond."""
import os
import signal
import subprocess
import sys
import tempfile
import time

import checks
from checks import check

undersong = sys.argv[1]
GOOD = "X:1\nT:Stepping Stones\nM:4/4\nL:1/4\nK:C\nC D E F|G2 E2|F D B, D|C4|]\n"


def run(*words, **extra):
    return subprocess.run([undersong, "sheet", *words], capture_output=True, text=True, timeout=60, **extra)


with tempfile.TemporaryDirectory() as folder:
    songs, out = os.path.join(folder, "songs"), os.path.join(folder, "out")
    os.mkdir(songs)
    os.mkdir(out)
    for name, text in (("a.abc", GOOD), ("b.abc", "no tune at all"), ("c.abc", GOOD)):
        with open(os.path.join(songs, name), "w") as file:
            file.write(text)
    a = os.path.join(songs, "a.abc")

    done = run(a, "--fingering")
    check("text", done.returncode == 0 and "steps" in done.stdout and "fingers" in done.stdout, done)
    bare = os.path.join(folder, "our-own-tune.abc")
    with open(bare, "w") as file:
        file.write("X:1\nT:\nM:3/4\nL:1/4\nK:F\nFGA|c3|]\n")
    done = run(bare)
    check("without a title the file's name", done.stdout.startswith("our-own-tune"), done)
    done = run(a, "--keys", "C,Bb", "--format", "lilypond")
    check("two keys", done.stdout.count("\\bookpart") == 2 and "\\key bes \\major" in done.stdout, done)
    done = run(a, "--keys", "C,H")
    check("a wrong key", done.returncode == 2 and done.stderr.count("\n") == 1 and "H" in done.stderr, done)

    check("a pickup is less than a bar", run(a, "--pickup", "5").stdout == run(a, "--pickup", "1").stdout != done.stdout)
    check("two bars are no pickup", run(a, "--pickup", "8").stdout == run(a, "--pickup", "0").stdout)

    done = run(songs, "--format", "lilypond", "--to", out)
    check("one bad file does not stop the others",
          sorted(os.listdir(out)) == ["a.ly", "c.ly"] and done.returncode == 2, done)
    check("the bad file is named", "b.abc" in done.stderr and "2 sheets written, 1 failed" in done.stderr, done)
    done = run(songs, "--format", "lilypond")
    check("several files need a folder", done.returncode == 2 and "--to" in done.stderr, done)

    page = os.path.join(folder, "page.pdf")
    own = os.path.join(folder, "temporary")
    os.mkdir(own)
    done = run(a, "--format", "pdf", "--to", page, env={**os.environ, "PATH": folder, "TMPDIR": own})
    check("no lilypond", done.returncode == 1 and "not installed" in done.stderr
          and done.stderr.count("\n") == 1 and not os.path.exists(page), done)
    check("no folder is left behind", os.listdir(own) == [], os.listdir(own))

    # Something in the place of lilypond looks at where it was started: nobody else can read that, or put a page there.
    seen = os.path.join(folder, "seen")
    with open(os.path.join(folder, "lilypond"), "w") as file:
        file.write(f"""#!/bin/sh
for word in "$@"; do case $word in --output=*) page=${{word#--output=}} ;; *.ly) source=$word ;; esac; done
stat -c %a "$(dirname "$page")" "$source" >{seen}
echo "$@" >>{seen}
echo page >"$page.pdf"
""")
    os.chmod(os.path.join(folder, "lilypond"), 0o755)
    odd = os.path.join(folder, "a; touch $HOME `id`.abc")
    os.rename(a, odd)
    path = folder + ":" + os.environ["PATH"]
    done = run(odd, "--format", "pdf", "--to", page, env={**os.environ, "PATH": path, "TMPDIR": own}, umask=0)
    told = open(seen).read().splitlines()
    check("lilypond works in a private folder", done.returncode == 0 and told[:2] == ["700", "600"], (done, told))
    check("the tune's name is nothing to a shell", "touch" not in told[2] and open(page).read() == "page\n", told)
    check("the private folder is gone", os.listdir(own) == [], os.listdir(own))

    # Several pages are numbered, and a dot in a folder's name is no ending.
    dotted = os.path.join(folder, "week.1")
    os.mkdir(dotted)
    with open(os.path.join(folder, "lilypond"), "w") as file:
        file.write("""#!/bin/sh
for word in "$@"; do case $word in --output=*) page=${word#--output=} ;; esac; done
echo 1 >"$page-page1.png"; echo 2 >"$page-page2.png"
""")
    for name, pages in (("page.png", ["page-1.png", "page-2.png"]), ("page", ["page-1.png", "page-2.png"])):
        done = run(odd, "--format", "png", "--to", os.path.join(dotted, name), env={**os.environ, "PATH": path})
        check("pages of " + name, done.returncode == 0 and sorted(os.listdir(dotted)) == pages, (done, os.listdir(dotted)))

    # Whoever does not want to wait ends it: lilypond ends too, and nothing is left.
    for name, ending in (("TERM", signal.SIGTERM), ("INT", signal.SIGINT)):
        os.unlink(page)
        os.unlink(seen)
        with open(os.path.join(folder, "lilypond"), "w") as file:
            file.write(f"#!/bin/sh\necho $$ >{seen}.part; mv {seen}.part {seen}; exec sleep 100\n")
        waiting = subprocess.Popen([undersong, "sheet", odd, "--format", "pdf", "--to", page], stderr=subprocess.PIPE,
                                   env={**os.environ, "PATH": path, "TMPDIR": own})
        until = time.monotonic() + 30
        while not os.path.exists(seen) and time.monotonic() < until:
            time.sleep(0.01)
        waiting.send_signal(ending)
        status = waiting.wait(30)
        check(name + " ends it", status == -ending, status)
        check(name + ": lilypond has ended, too", not os.path.exists(f"/proc/{open(seen).read().strip()}"))
        check(name + ": nothing is left", os.listdir(own) == [] and not os.path.exists(page), os.listdir(own))
        open(page, "w").close()

sys.exit(checks.status())
