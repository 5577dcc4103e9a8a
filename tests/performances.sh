#!/bin/sh
# usage: performances.sh PERFORM TUNES OUT
# Plays every TUNES/*.abc as a learner might, seeded by the number in its X: line, into OUT/*.mid.
set -eu
for tune in "$2"/*.abc; do
    seed=$(sed -n 's/^X: *//p' "$tune" | head -n 1)
    "$1" "$seed" "$tune" "$3/$(basename "$tune" .abc).mid"
done
