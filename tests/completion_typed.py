#!/usr/bin/env python3
"""completion_typed.py PROGRAM: the completions, typed into a real bash and, where it is installed, a real zsh, on a terminal."""
import os, pty, re, select, shutil, subprocess, sys, tempfile, time

program = os.path.abspath(sys.argv[1])
bad = 0
TAB, CLEAR, MARK = b"\t", b"\x15", b"READY"
# What is typed, with a tab behind it, and what must stand on the line or below it then.
CASES = [
    ("undersong pl", "undersong play "),
    ("undersong --ver", "undersong --version "),
    ("undersong har", "undersong harmonize "),
    ("undersong play --virt", "--virtual-time "),
    ("undersong play --texture root-", "--texture root-run "),
    ("undersong play --texture=root-", "--texture=root-run "),
    ("undersong sheet --keys C --form", "--keys C --format"),
    ("undersong harmonize tunes/two\\ w", "tunes/two\\ words.abc "),
    ("undersong play --tune tun", "--tune tunes/"),
]


class Shell:
    def __init__(self, words, folder, setup):
        self.pid, self.terminal = pty.fork()
        if self.pid == 0:
            os.environ.update(TERM="dumb", PS1="> ", HOME=folder, PATH=folder + ":" + os.environ["PATH"])
            os.chdir(folder)
            os.execvp(words[0], words)
        self.seen = b""
        os.write(self.terminal, setup.encode() + b"; echo REA''DY\n")
        self.until(lambda seen: MARK in seen)

    def until(self, done, seconds=20):
        """Reads on until it has seen enough; what was seen since the last time."""
        end = time.monotonic() + seconds
        while not done(self.seen) and (left := end - time.monotonic()) > 0:
            if select.select([self.terminal], [], [], left)[0]:
                try:
                    self.seen += os.read(self.terminal, 65536)
                except OSError:
                    break
        seen, self.seen = self.seen, b""
        return seen

    def typed(self, text, wanted):
        os.write(self.terminal, text.encode() + TAB)
        seen = self.until(lambda seen: wanted in plain(seen))
        os.write(self.terminal, CLEAR + b"echo REA''DY\n")
        self.until(lambda seen: MARK in seen)
        return plain(seen)

    def close(self):
        os.close(self.terminal)
        os.waitpid(self.pid, 0)


def plain(seen):
    """As it stands on the line: a bell is nothing, a step back takes a character away."""
    text = re.sub(r"\x1b\[[?\d;]*[a-zA-Z]", "", seen.decode(errors="replace")).replace("\a", "")
    while "\b" in text:
        text = re.sub(r"[^\b]?\b", "", text, count=1)
    return text


def try_shell(words, setup, folder):
    global bad
    shell = Shell(words, folder, setup)
    for text, wanted in CASES:
        seen = shell.typed(text, wanted)
        good = wanted in seen
        bad += not good
        print("ok -" if good else "not ok -", f"{words[0]}: {text}", "" if good else f": {seen!r}")
    shell.close()


with tempfile.TemporaryDirectory() as folder:
    os.symlink(program, os.path.join(folder, "undersong"))
    os.mkdir(os.path.join(folder, "tunes"))
    open(os.path.join(folder, "tunes", "two words.abc"), "w").close()
    for shell, name in (("bash", "undersong.bash"), ("zsh", "_undersong")):
        with open(os.path.join(folder, name), "w") as f:
            f.write(subprocess.run([program, "--completion", shell], capture_output=True, text=True, check=True).stdout)
    try_shell(["bash", "--norc", "-i"], ". ./undersong.bash", folder)
    if shutil.which("zsh"):
        try_shell(["zsh", "-f", "-i"], "fpath=($PWD $fpath); autoload -U compinit; compinit -D -u", folder)
    else:
        print("ok - zsh # SKIP it is not installed")
sys.exit(1 if bad else 0)
