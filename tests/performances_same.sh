#!/bin/sh
# usage: performances_same.sh PERFORM TUNES
# Fails unless every performance in TUNES is, byte for byte, what the performer makes today.
set -eu
out=$(mktemp -d)
trap 'rm -rf "$out"' EXIT
sh "$(dirname "$0")/performances.sh" "$1" "$2" "$out"
made=0
for file in "$out"/*.mid; do
    cmp "$file" "$2/$(basename "$file")"
    made=$((made + 1))
done
[ "$made" -ge 8 ]
echo "$made performances, all the same bytes"
