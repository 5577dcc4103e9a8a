#!/bin/sh
# node_test.sh FOLDER PACKAGE@VERSION SCRIPT ARGUMENTS...
# Runs a node script with one package of the npm registry, installed once into FOLDER/PACKAGE; the script's
# first argument is the node_modules folder there.  Exit status 77, skipped, with the reason, where node or the registry is missing.
set -u
package=$2 script=$3
folder=$1/${package%@*}
shift 3
for program in node npm; do
    command -v $program >/dev/null || { echo "skipped: $program is not installed"; exit 77; }
done
mkdir -p "$folder"
exec 8>"$folder/lock" # one installs it, for all that run beside one another
flock 8
if [ ! -d "$folder/node_modules/${package%@*}" ]; then
    timeout 100 npm install --no-audit --no-fund --silent --prefix "$folder" "$package" >/dev/null 2>&1 ||
        { rm -rf "$folder/node_modules"; echo "skipped: $package cannot be had from the npm registry"; exit 77; }
fi
exec 8>&-
exec node "$script" "$folder/node_modules" "$@"
