#!/usr/bin/env python3
"""Prints the closing line of a test run: count.py testlog.json...  Fails where nothing ran."""
import json
import sys

passed = failed = skipped = 0
for line in (line for path in sys.argv[1:] for line in open(path)):
    result = json.loads(line)["result"]
    if result in ("OK", "EXPECTEDFAIL"):
        passed += 1
    elif result == "SKIP":
        skipped += 1
    else:
        failed += 1
print(f"{passed} passed, {failed} failed, {skipped} skipped")
sys.exit(0 if passed and not failed else 1)
