#!/usr/bin/env python3
"""report.py SOURCE BUILD NINJA MESON OUT: one page of measured figures, in Markdown, with the machine and the date: the
benchmarks, and with -Dcorpus=FOLDER the evaluations of harmony, key, follower and known tunes.  A part that fails, or
does not end, is named, and fails the report."""
import json, os, platform, subprocess, sys, time
import limited

LEAST_SECONDS, EVALUATION_SECONDS = 900, 3600  # nothing is waited for longer
source, build, ninja, meson, out = sys.argv[1:]
failed = []


def words_of(path, key):
    try:
        return next(l.split(":", 1)[1].strip() for l in open(path) if l.startswith(key))
    except (OSError, StopIteration):
        return "not known"


def git():
    result = subprocess.run(["git", "-C", source, "log", "-1", "--format=%h of %cs"], capture_output=True, text=True)
    dirty = subprocess.run(["git", "-C", source, "status", "--porcelain", "-uno"], capture_output=True, text=True).stdout
    return result.stdout.strip() + (", with changes" if dirty else "") if result.returncode == 0 else "not from a repository"


def memory():
    size = words_of("/proc/meminfo", "MemTotal").split()[0]
    return f"{int(size) // 1048576} GiB" if size.isdigit() else "memory not known"


def machine():
    load = os.getloadavg()[0]
    return [f"- Date: {time.strftime('%Y-%m-%d %H:%M %Z')}", f"- Source: {git()}",
            f"- Machine: {words_of('/proc/cpuinfo', 'model name')}, {os.cpu_count()} cores, "
            f"{memory()}, {platform.system()} {platform.release()}",
            f"- Load when it began: {load:.1f}" + (" - busy: timings are slower than on a quiet machine" if load > 1 else "")]


def section(title, text, good):
    if not good:
        failed.append(title)
    return ["", f"## {title}{'' if good else ' (FAILED)'}", "", "```", text.strip()[-60000:] or "nothing printed", "```"]


def introspect(what):
    return json.loads(subprocess.run([meson, "introspect", what, build], capture_output=True, text=True).stdout)


def benchmarks():
    made = subprocess.run([ninja, "-C", build, "all", "meson-benchmark-prereq"], capture_output=True, text=True)
    if made.returncode:
        return section("Benchmarks", made.stdout, False)
    lines = []
    for row in sorted(introspect("--benchmarks"), key=lambda r: r["name"]):
        text, said, took, end = limited.run(row["cmd"], max(row["timeout"], LEAST_SECONDS), cwd=build)
        good = end in ("OK", "skipped")
        lines += section(f"Benchmark: {row['name']}, {took:.1f} s" + ("" if end == "OK" else f", {end}"),
                         text + ("" if good else said), good)
    return lines


def evaluations():
    if not next(o["value"] for o in introspect("--buildoptions") if o["name"] == "corpus"):
        return ["", "No evaluation on tunes: `meson configure -Dcorpus=FOLDER` names a folder of tunes with chords."]
    lines = []
    for name in ("harmony", "key", "follower", "tunes"):
        text, said, took, end = limited.run([ninja, "-C", build, f"evaluate-{name}"], EVALUATION_SECONDS)
        text = "\n".join(l for l in text.splitlines() if not l.startswith(("ninja:", "[")))
        text = text[max(text.find("whole tune, key found"), 0):]  # what was printed while it learned is none of the figures
        text = text.split("worst tunes")[0]  # nor are single tunes
        lines += section(f"Evaluation: {name}" + ("" if end == "OK" else f", {end}"), text or said, end == "OK")
    return lines


page = ["# undersong, measured", "", *machine(), *evaluations(), *benchmarks()]
with open(out, "w", encoding="utf-8") as f:
    f.write("\n".join(page) + "\n")
print(f"{out}: {sum(l.startswith('## ') for l in page)} parts" + (f"; failed: {', '.join(failed)}" if failed else ""))
sys.exit(1 if failed else 0)
