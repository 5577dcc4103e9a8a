#!/usr/bin/env python3
"""hardening.py SOURCE BUILD BINARY...: what the linker and the compiler were asked for is in the binaries, and nothing in
them opens a network connection, starts a shell or makes a guessable temporary file; nor do they know where they were
built, but for what debuggers read.  Read with readelf, nm and strip (binutils)."""
import re, subprocess, sys, tempfile

bad = 0
NEVER = """socket connect bind listen accept accept4 getaddrinfo gethostbyname gethostbyname2 sendto recvfrom sendmsg recvmsg
    system popen mktemp tmpnam tempnam tmpnam_r gets strcpy strcat sprintf vsprintf""".split()


def check(binary, what, good, more=""):
    global bad
    bad += not good
    print("ok -" if good else "not ok -", binary.split("/")[-1] + ":", what, "" if good else more)


def output(*words):
    return subprocess.run(words, capture_output=True, text=True, check=True).stdout


def without_debugging(binary):
    with tempfile.NamedTemporaryFile() as out:
        subprocess.run(["strip", "--strip-debug", "-o", out.name, binary], check=True)
        return open(out.name, "rb").read()


places = [path.encode() for path in sys.argv[1:3]]
for binary in sys.argv[3:]:
    header, segments, dynamic = (output("readelf", "-W", flag, binary) for flag in ("-h", "-l", "-d"))
    wanted = [line.split()[-1] for line in output("nm", "-D", "--undefined-only", binary).splitlines()]
    wanted = [name.split("@")[0] for name in wanted]
    program = not re.search(r"\.so$", binary)
    check(binary, "can be loaded anywhere (PIE)", "DYN" in header and (not program or "PIE" in dynamic), header)
    stack = re.search(r"GNU_STACK.*", segments)
    check(binary, "no code on the stack", stack and "E" not in stack.group().split()[-2], stack and stack.group())
    both = [s for s in re.findall(r"^ +LOAD .*", segments, re.M) if "W" in s.split("0x")[-2] and "E" in s.split("0x")[-2]]
    check(binary, "nothing both writable and executable", not both, both)
    check(binary, "relocations are read-only, and done at the start", "GNU_RELRO" in segments and "NOW" in dynamic, dynamic)
    check(binary, "no library folder of its own (RPATH)", not re.search(r"\((RPATH|RUNPATH)\)", dynamic), dynamic)
    check(binary, "guards on the stack", "__stack_chk_fail" in wanted, wanted)
    check(binary, "calls that know the size of what they fill", any(re.match(r"__\w+_chk$", n) and n != "__stack_chk_fail"
                                                                    for n in wanted), wanted)
    called = sorted(set(wanted) & set(NEVER))
    check(binary, "no network, no shell, no guessable file", not called, called)
    text = without_debugging(binary)
    known = [text[m.start():m.start() + 100] for place in places for m in re.finditer(re.escape(place), text)]
    check(binary, "no place where it was built", len(text) > 1000 and not known, known)
if len(sys.argv) < 4:
    sys.exit("hardening.py: which binary?")
sys.exit(1 if bad else 0)
