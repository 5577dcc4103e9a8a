#!/bin/sh
# run.sh PROGRAM SEQTOOL SOURCE-FOLDER WORK-FOLDER: boots Debian's kernel in a small virtual machine with a real ALSA
# sequencer, emulated, plays the program there, and judges what comes out.
# The guest's clock counts instructions, 8 ns each, and skips what would be waiting: a busy host changes no figure.
# UNDERSONG_VM_CLOCK= (empty) runs by the host's clock instead, UNDERSONG_VM_CPU=max on a processor with all that QEMU knows.
# Exit status 77 (skipped, with the reason) where the kernel or a tool is missing.
set -u
program=$1; seqtool=$2; source=$3; work=$4
here=$(cd "$(dirname "$0")" && pwd)
. "$here/boot.sh"
need_kernel
need aplaymidi amidi
sh "$here/mkinitrd.sh" "$kernel" "$program" "$seqtool" "$source/patches" "$work/initrd" || exit 1
rm -rf "$work/out"; mkdir "$work/out"
boot "${UNDERSONG_VM_SECONDS:-600}" 512 "$work/initrd" "$work/out" \
    ${UNDERSONG_VM_CLOCK--icount shift=3,align=off,sleep=off} >"$work/serial.log" 2>&1
grep '^##' "$work/serial.log" | sed 's/^##/#/'
/usr/bin/python3 "$here/judge.py" "$work/out" "$program" "$source/patches/midi-only.ini" || { tail -n 20 "$work/serial.log" | sed 's/^/# /'; exit 1; }
