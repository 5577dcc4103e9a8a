#!/usr/bin/env python3
"""builds_32.py BUILD WORK [RUNNER]: compiles the core, rt, io and model sources of a meson build again for 32 bits with
the same flags and warnings as errors; links the soak with the core alone, and plays it (with RUNNER where the kernel
runs 64 bits alone)."""
import json, os, shlex, subprocess, sys

build, work, *runner = sys.argv[1:]
os.makedirs(work, exist_ok=True)
objects, failed, count = [], 0, 0
for entry in json.load(open(os.path.join(build, "compile_commands.json"))):
    source = os.path.normpath(os.path.join(entry["directory"], entry["file"]))
    part = source.split("/src/")[-1].split("/")[0] if "/src/" in source else ""
    soak = "/soak.p/" in entry["output"]
    in_core = "undersong-core" in entry["output"]
    if not soak and not any(lib in entry["output"] for lib in ("libundersong-core", "libundersong-rt", "libundersong-io",
                            "libundersong-ports", "libundersong-sound", "libundersong-learn", "libundersong-scene")):
        continue
    words = shlex.split(entry["command"])
    at = words.index("-o")
    output = os.path.join(work, entry["output"].replace("/", "_"))
    words[at + 1] = output
    words = [w for w in words if w not in ("-MD", "-pipe")]
    for flag in ("-MQ", "-MF"):
        if flag in words:
            i = words.index(flag)
            del words[i:i + 2]
    result = subprocess.run(words + ["-m32", "-msse2", "-mfpmath=sse", "-Werror"], cwd=entry["directory"], capture_output=True, text=True)
    count += 1
    if result.returncode:
        failed += 1
        print(source, "\n".join(l for l in result.stderr.splitlines() if "error" in l)[:400])
    elif soak or in_core:
        objects.append(output)
print(f"{count} files compiled, {failed} failed")
if failed or count < 100:
    sys.exit(1)
program = os.path.join(work, "soak")
subprocess.run(["gcc", "-m32", "-o", program] + objects + ["-lm"], check=True)
result = subprocess.run(runner + [program, "20000"], capture_output=True, text=True)
print(result.stdout[-300:], result.stderr[-300:])
print(f"{count} files compiled without a warning; a soak of 20,000 notes {'holds' if result.returncode == 0 else 'FAILS'}")
sys.exit(result.returncode)
