#!/bin/sh
# mkinitrd.sh KERNEL-FOLDER PROGRAM SEQTOOL PATCHES OUT: packs busybox, the sequencer's modules, the programs with
# their libraries, and the guest's script.
set -eu
kernel=$1; program=$2; seqtool=$3; patches=$4; out=$5
here=$(cd "$(dirname "$0")" && pwd)
. "$here/boot.sh"
root=$(mktemp -d)
trap 'rm -rf "$root"' EXIT
add_busybox "$root" sh mount umount insmod cat ls mv sleep poweroff kill cut grep echo sync mkfifo mkdir
add_modules "$root" virtio_pci 9p 9pnet_virtio snd-seq snd-seq-dummy snd-seq-midi snd-virmidi snd-aloop
mkdir -p "$root"/usr/bin "$root"/usr/share "$root"/lib64
printf 'root:x:0:\naudio:x:29:\n' >"$root/etc/group"
echo root:x:0:0::/root:/bin/sh >"$root/etc/passwd"
cp "$program" "$root/usr/bin/undersong"
cp "$(dirname "$program")/undersong-sound.so" "$root/usr/bin/" 2>/dev/null || : # a build without sound has none
cp "$seqtool" "$root/usr/bin/seqtool"
for tool in aplaymidi arecordmidi aconnect amidi arecord; do cp "/usr/bin/$tool" "$root/usr/bin/"; done
for binary in "$root"/usr/bin/*; do
    ldd "$binary" | grep -o '/[^ ]*' | while read -r library; do
        mkdir -p "$root$(dirname "$library")"
        cp -Lu "$library" "$root$library"
    done
done
cp -r /usr/share/alsa "$root/usr/share/"
rm -rf "$root/usr/share/alsa/ucm2"
mkdir -p "$root/usr/share/sounds/sf2"
cp -L /usr/share/sounds/sf2/TimGM6mb.sf2 "$root/usr/share/sounds/sf2/" 2>/dev/null || :
cp -r "$patches" "$root/patches"
printf '[patch]\nname = One voice for a pitch tracker\n[melody]\nprogram = 74\nlevel = 120\nreverb = 0\n[left-hand]\nlevel = 0\n' \
    >"$root/patches/one-voice.ini"
cp "$here/guest.sh" "$root/init"
chmod +x "$root/init"
echo "${UNDERSONG_VM_NOTES:-12}" >"$root/etc/notes"
/usr/bin/python3 "$here/melody.py" "$root/root/melody.mid"
/usr/bin/python3 "$here/melody.py" "$root/root/slow.mid" 1
pack "$root" "$out"
