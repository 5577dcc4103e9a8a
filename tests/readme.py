#!/usr/bin/env python3
"""readme.py PROGRAM ROOT: what README.md tells one to type works: each `undersong ...` in it is run - files for real, with
song.abc standing for a tune; live playing and the window up to the point where every word of the line has been taken.
The pictures and files that it names are there."""
import atexit, glob, os, re, shlex, shutil, subprocess, sys, tempfile

program, root = map(os.path.abspath, sys.argv[1:])
text = open(os.path.join(root, "README.md"), encoding="utf-8").read()
bad = counted = 0
GONE = "no-such-file.mid"
COMMANDS = ("play", "harmonize", "sheet", "review", "ports", "stand")


def check(what, good, more=""):
    global bad
    bad += not good
    print("ok -" if good else "not ok -", what, "" if good else more)


def commands():
    spans = re.findall(r"`([^`\n]*(?:\n[^`\n]*)?)`", re.sub(r"```.*?```", "", text, flags=re.S))
    lines = [line for block in re.findall(r"```\n(.*?)```", text, re.S) for line in block.splitlines()]
    for line in lines + [" ".join(s.split()) for s in spans]:
        words = shlex.split(line, comments=True) if line.startswith("undersong ") else []
        if len(words) > 1 and words[1] in COMMANDS:
            yield words[1:]
        elif words:
            check(f"`{line}` names a command", len(words) == 1 or words[1].startswith("-"), words)


def outcome(words):
    r = subprocess.run([program, *words], cwd=work, env=env, stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=120)
    return r.returncode, r.stderr


def run(words):
    live = words[0] in ("play", "stand") and "--help" not in words
    if live:  # every word is taken, then the file that is not there ends it
        return outcome(words + (["--from", GONE] if words[0] == "play" else ["--picture", "x.png", "--from", GONE])), 2
    if words == ["sheet"] or words == ["harmonize"] or words == ["review"]:
        return (0, ""), 0
    if words[0] == "review" and not any(w.endswith(".mid") for w in words):
        words = words + ["week.mid"]  # a new home has no kept session
    if "|" in " ".join(words):
        return (0, ""), 0
    return outcome(words), 0


work = tempfile.mkdtemp(prefix="undersong-readme-")
atexit.register(shutil.rmtree, work, True)
env = dict(os.environ, HOME=work, XDG_DATA_HOME=work, XDG_CONFIG_HOME=work)
songs = os.path.join(work, "demo-songs")
shutil.copytree(os.path.join(root, "demo-songs"), songs)
shutil.copy(os.path.join(songs, "breakwater-lamp.abc"), os.path.join(work, "song.abc"))
shutil.copy(os.path.join(songs, "breakwater-lamp.mid"), os.path.join(work, "week.mid"))
for words in commands():
    counted += 1
    if "pdf" in words and not shutil.which("lilypond"):
        continue
    (status, said), wanted = run(words)
    good = status == wanted and (wanted == 0 or GONE in said)
    check("undersong " + " ".join(words), good, f"status {status}: {said}")
check("commands were found", counted >= 15, counted)
helps = [subprocess.run([program, c, "--help"], capture_output=True, text=True).stdout for c in COMMANDS]
known = set(re.findall(r"^ +(--[a-z-]+)", "".join(helps), re.M))
for option in sorted(set(re.findall(r"`(--[a-z-]+)", text))):
    check(f"{option} is an option", option in known)
# What the first column of the table of troubles quotes is what the program says.
spoken = ""
for path in glob.glob(os.path.join(root, "src", "*", "*.c")):
    spoken += re.sub(r'"\s*\n\s*"', "", open(path, encoding="utf-8").read())
symptoms = re.findall(r"^\| ([^|]*) \|", re.search(r"\n## When something is wrong\n(.*?)\n## ", text, re.S).group(1), re.M)
quotes = [q.removesuffix(" ...") for s in symptoms for q in re.findall(r"`([^`]+)`", s)]
check("symptoms are quoted", len(quotes) >= 3, quotes)
for quote in quotes:
    check(f"the program says: {quote}", quote in spoken)
sample = next(b for b in re.findall(r"```\n(.*?)```", text, re.S) if b.startswith("bar "))
heard = subprocess.run([program, "play", "--virtual-time", "--from", "net-menders.mid", "--to", "out.mid"], cwd=songs, env=env,
                       capture_output=True, text=True)
BEFORE_LEFT = 34  # notes, steps and chords; where the left hand lies is a matter of its own tests
columns = lambda lines: "\n".join(line[:BEFORE_LEFT].rstrip() for line in lines.splitlines())
printed = columns(heard.stdout + heard.stderr)
check("what README shows of the demo is what it prints",
      all(columns(part) in printed for part in sample.rstrip().split("\n...\n")), printed)
named = re.findall(r'src="([^"]+)"', text) + re.findall(r"!\[[^\]]*\]\(([^)]+)\)", text) + re.findall(r"\b(?:sh|python3) ((?:demo-songs|tests)/[a-z_]+\.(?:sh|py))", text)
named += [f"demo-songs/{t}.mid" for t in re.findall(r"play\.sh ([a-z]+-[a-z]+)", text)]
for name in sorted(set(named)):
    check(f"{name} is there", os.path.exists(os.path.join(root, name)))
# Figures are quoted from the page that `ninja report` writes.
page = open(os.path.join(root, "tests/measured.md"), encoding="utf-8").read()
quoted = re.findall(r"(?<![\d.])\d*\.\d+(?!\w)", re.search(r"\n## Measured\n(.*?)\n## ", text, re.S).group(1))
check("figures are quoted", len(quoted) >= 8, quoted)
for figure in quoted:
    check(f"{figure} stands in tests/measured.md", re.search(rf"(?<![\d.])0?{re.escape(figure)}(?!\d)", page))
sys.exit(1 if bad else 0)
