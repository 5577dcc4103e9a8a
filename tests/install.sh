#!/bin/sh
# install.sh LIST: installs the Debian packages of a list that are missing, as root or through sudo.
set -u
missing=
for package in $(cat "$1"); do
    dpkg-query -W -f '${Status}' "$package" 2>/dev/null | grep -q 'ok installed' || missing="$missing $package"
done
[ -n "$missing" ] || exit 0
echo "Installing:$missing"
sudo=
if [ "$(id -u)" != 0 ]; then
    command -v sudo >/dev/null || { echo "These packages are missing; install them as root:$missing" >&2; exit 1; }
    sudo=sudo
fi
export DEBIAN_FRONTEND=noninteractive
$sudo apt-get update -q >/dev/null || { echo "apt-get update failed; check the network" >&2; exit 1; }
# shellcheck disable=SC2086
$sudo apt-get install -q -y --no-install-recommends $missing >/dev/null ||
    { echo "Could not install:$missing" >&2; exit 1; }
