#!/bin/sh
# The code is formatted by .clang-format, version 14; skipped (77) where that version is not installed.
set -u
cd "$1" || exit 1
clang-format --version 2>/dev/null | grep -q 'version 14' || { echo "clang-format 14 is not installed"; exit 77; }
files=$(git ls-files 'src/*.[ch]' 'include/*.h' 'tests/*.[ch]' | grep -v _tables)
[ -n "$files" ] || { echo "not in a git checkout"; exit 77; }
printf '%s\n' "$files" | xargs clang-format --dry-run -Werror
