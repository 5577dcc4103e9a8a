#!/usr/bin/env python3
"""The core links with libm alone: core_symbols.py NM LIBRARY.  Fails on any undefined symbol that is not allowed."""
import subprocess
import sys

ALLOWED = set("""
acos asin atan atan2 cbrt ceil cos exp exp2 expm1 fabs floor fmax fmaxf fmin fminf fmod hypot ldexp frexp
log log10 log1p log2 lrint lround llrint llround modf nearbyint pow rint round sin sqrt tan tanh trunc
acosf atan2f ceilf cosf expf exp2f fabsf floorf fmodf logf log1pf log2f lrintf lroundf powf rintf roundf sinf sqrtf tanhf truncf
memchr memcmp memcpy memmove memset strchr strcmp strcpy strcspn strlen strncmp strncpy strrchr strspn strstr
snprintf __snprintf_chk vsnprintf __vsnprintf_chk strtol strtod atoi tolower toupper __ctype_b_loc __ctype_tolower_loc __ctype_toupper_loc
__stack_chk_fail __memcpy_chk __memset_chk __memmove_chk __strcpy_chk __strncpy_chk __strcat_chk __stack_chk_fail_local _GLOBAL_OFFSET_TABLE_
abs labs __popcountdi2 erfcf erf erfc erff
__cpu_model __cpu_indicator_init
""".split())  # the last two: what the compiler's own library knows of the processor

nm, library = sys.argv[1:]
wanted, defined = {}, set()
for line in subprocess.run([nm, "-A", library], capture_output=True, text=True, check=True).stdout.splitlines():
    place, symbol = line.rsplit(":", 1)
    parts = symbol.split()
    if len(parts) < 2:
        continue
    kind, name = parts[-2], parts[-1]
    if kind in ("U", "w"):
        wanted.setdefault(name, place.rsplit(":", 1)[-1])
    else:
        defined.add(name)
prefixes = ("__asan", "__ubsan", "__tsan", "__sanitizer", "__gcov", "__llvm")
bad = {n: p for n, p in wanted.items() if n not in defined and n not in ALLOWED and not n.startswith(prefixes)}
for name, place in sorted(bad.items()):
    print(f"{place}: {name} is not allowed in the core")
if not wanted or not defined:
    print("no symbols read")
    sys.exit(1)
sys.exit(1 if bad else 0)
