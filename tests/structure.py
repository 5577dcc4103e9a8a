#!/usr/bin/env python3
"""structure.py ROOT CC...: layers include downwards only; every public function is documented; every public header
compiles by itself and beside the others; no file is too long; DEVELOPERS.md names files that are there; no shell, no
guessable temporary file, no network, no unbounded copy in the sources."""
import collections, glob, os, re, subprocess, sys

root, compiler = sys.argv[1], sys.argv[2:]
MAY_USE = {
    "core": {"core"},
    "rt": {"core", "rt"},
    "io": {"core", "rt", "io"},
    "view": {"core", "rt", "io", "view"},
    "model": {"core", "io", "model"},
    "app": {"core", "rt", "io", "view", "model", "app"},
}
TOP = set("README.md DEVELOPERS.md LICENSE meson.build meson_options.txt src include tests patches demo-songs".split())
SHARED = {"status.h"}  # how a failure is told: below everything but the core
FORBIDDEN = set("system popen mktemp tmpnam tempnam gets strcpy strcat sprintf vsprintf socket connect getaddrinfo gethostbyname".split())
DECLARATION = re.compile(r"\b(us_[a-z0-9_]+)\s*\((?!\*)")
bad = 0


def complain(text):
    global bad
    bad += 1
    print("not ok -", text)


def read(path):
    with open(os.path.join(root, path), encoding="utf-8") as f:
        return f.read()


def without_comments(text):
    return re.sub(r"/\*.*?\*/|//[^\n]*", lambda m: re.sub(r"[^\n]", " ", m.group()), text, flags=re.S)


def without_strings(text):
    return re.sub(r'"(?:\\.|[^"\\\n])*"', '""', text)


def layer_of(path):
    """The learned tables are data of the core, wherever their files lie."""
    return "core" if re.search(r"model/(harmony|key)_tables\.c$", path) else path.split("/")[1]


def sources():
    return sorted(os.path.relpath(p, root) for p in glob.glob(os.path.join(root, "src", "*", "*.[ch]")))


def headers():
    return sorted(os.path.relpath(p, root) for p in glob.glob(os.path.join(root, "include", "undersong", "*.h")))


def declared(text):
    """Functions of a header: names before a parenthesis outside braces."""
    names, depth = [], 0
    for statement in re.split(r"([{};])", re.sub(r"^\s*#.*?(?<!\\)$", "", without_comments(text), flags=re.M)):
        if statement in "{}" and statement:
            depth += 1 if statement == "{" else -1
        elif depth == 0 and not statement.lstrip().startswith("typedef"):
            match = DECLARATION.search(statement)
            if match and "=" not in statement[:match.start()]:
                names.append(match.group(1))
    return names


def homes():
    """Function -> layer, from the definitions at the start of a line."""
    found = {}
    for path in sources():
        if path.endswith(".c"):
            for match in re.finditer(r"^(?!static)[a-z][\w \*]*?\b(us_[a-z0-9_]+)\s*\([^;{}]*\)\s*\{",
                                     without_comments(read(path)), re.M):
                found[match.group(1)] = layer_of(path)
    return found


def header_layers():
    where, layers = homes(), {}
    for path in headers():
        name = os.path.basename(path)
        votes = collections.Counter(where[f] for f in declared(read(path)) if f in where)
        lost = [f for f in declared(read(path)) if f not in where and f + "(" in without_comments(read(path))]
        for function in lost:
            if not re.search(r"static inline[^;]*\b" + function, read(path)):
                complain(f"{path}: {function} is declared, defined nowhere")
        if len(votes) > 1:
            complain(f"{path}: defined in more than one layer: {dict(votes)}")
        layers[name] = votes.most_common(1)[0][0] if votes else "core"
    return layers


def check_directions(layers):
    for path in sources() + headers():
        own = layers[os.path.basename(path)] if path.startswith("include") else layer_of(path)
        for name in re.findall(r'#include "([^"]+)"', read(path)):
            base = os.path.basename(name)
            if name.startswith("undersong/"):
                if base not in layers:
                    complain(f"{path}: includes {name}, which is not there")
                elif base in SHARED and own == "core":
                    complain(f"{path}: the core includes {name}; nothing in it can fail later")
                elif base not in SHARED and layers[base] not in MAY_USE[own]:
                    complain(f"{path}: {own} includes {name} of {layers[base]}")
            else:
                private = [p for p in sources() if os.path.basename(p) == base and p.endswith(".h")]
                for home in {layer_of(p) for p in private}:
                    learns = own in ("model",) and home == "core"  # learning looks inside what it learns for
                    if home != own and not learns:
                        complain(f"{path}: {own} includes the private header {name} of {home}")


def check_documented():
    count = 0
    for path in headers():
        text = read(path)
        if not text.startswith("/*"):
            complain(f"{path}: does not begin with a comment that says what it is for")
        for paragraph in re.split(r"\n\s*\n", text):
            for function in declared(re.sub(r"^#.*$", "", paragraph, flags=re.M)):
                count += 1
                before = paragraph[:paragraph.index(function + "(")] if function + "(" in paragraph else paragraph
                line = next((l for l in paragraph.splitlines() if function + "(" in l), "")
                if "/*" not in before and "/*" not in line:
                    complain(f"{path}: {function} is not documented")
    if count < 100:
        complain(f"only {count} public functions found")


def check_alone():
    for path in headers():
        result = subprocess.run(compiler + ["-std=c11", "-D_GNU_SOURCE", "-Wall", "-Werror", "-fsyntax-only", "-x", "c",
                                "-I", os.path.join(root, "include"), "-include", os.path.join(root, path), "/dev/null"],
                                capture_output=True, text=True)
        if result.returncode:
            complain(f"{path}: does not compile by itself: {result.stderr.splitlines()[0]}")


def check_together():
    """Whoever uses two of them must not find one name twice."""
    text = "".join(f'#include "{os.path.basename(os.path.dirname(p))}/{os.path.basename(p)}"\n' for p in headers())
    result = subprocess.run(compiler + ["-std=c11", "-D_GNU_SOURCE", "-fsyntax-only", "-x", "c", "-I", os.path.join(root, "include"),
                            "-"], input=text, capture_output=True, text=True)
    for line in result.stderr.splitlines():
        if "error" in line:
            complain(f"all headers together: {line}")


def check_guide():
    """The files that DEVELOPERS.md names are there."""
    text = read("DEVELOPERS.md")
    names = set(re.findall(r"\b(?:src|tests|include|patches|demo-songs)/[\w/.-]+\.[a-z]+\b", text))
    everything = {os.path.basename(f) for _, _, files in os.walk(root) for f in files}
    for name in sorted(names):
        if not os.path.exists(os.path.join(root, name)):
            complain(f"DEVELOPERS.md: {name} is not there")
    for name in sorted(set(re.findall(r"\b[a-z]\w+\.[ch]\b", text))):
        if name not in everything:
            complain(f"DEVELOPERS.md: {name} is not there")


def check_sizes():
    """One idea a file: what grows beyond this holds two.  Learned tables are data."""
    for path in sources():
        lines = read(path).count("\n")
        if lines > 440 and "_tables." not in path:
            complain(f"{path}: {lines} lines; split it")


def check_calls():
    for path in sources():
        text = without_strings(without_comments(read(path)))
        for match in re.finditer(r"(?<![\w.>])([a-z_]+)\s*\(", text):
            if match.group(1) in FORBIDDEN:
                line = text.count("\n", 0, match.start()) + 1
                complain(f"{path}:{line}: calls {match.group(1)}")


def check_top():
    """What stands at the top is what a newcomer is told to expect; build folders are not kept."""
    for name in set(os.listdir(root)) - TOP:
        if not name.startswith((".", "build")) and name != "__pycache__":
            complain(f"{name}: not for the top folder")


check_directions(header_layers())
check_documented()
check_alone()
check_together()
check_guide()
check_sizes()
check_calls()
check_top()
if not bad:
    print("ok - layers, documentation, headers, calls")
sys.exit(1 if bad else 0)
