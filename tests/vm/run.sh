#!/bin/sh
# run.sh PROGRAM SEQTOOL SOURCE-FOLDER WORK-FOLDER: boots Debian's kernel in a small virtual machine with a real ALSA
# sequencer, emulated, plays the program there, and judges what comes out.
# The guest's clock counts instructions, 8 ns each, and skips what would be waiting: a busy host changes no figure.
# UNDERSONG_VM_CLOCK= (empty) runs by the host's clock instead.
# Exit status 77 (skipped, with the reason) where the kernel or a tool is missing.
set -u
program=$1; seqtool=$2; source=$3; work=$4
here=$(cd "$(dirname "$0")" && pwd)
for tool in qemu-system-x86_64 busybox cpio zstd depmod modprobe aplaymidi amidi dpkg-deb; do
    command -v "$tool" >/dev/null || { echo "1..0 # SKIP $tool is not installed"; exit 77; }
done
mkdir -p "$work"
kernel=$work/kernel
if [ ! -d "$kernel/boot" ]; then
    package=$(apt-cache depends linux-image-amd64 2>/dev/null | awk '/Depends: linux-image-[0-9]/ {print $2; exit}')
    [ -n "$package" ] || { echo "1..0 # SKIP no Debian kernel package is known here"; exit 77; }
    cached=$(ls "${UNDERSONG_KERNEL_DEB:-/nowhere}" 2>/dev/null)
    (cd "$work" && { [ -n "$cached" ] || apt-get download -q "$package"; }) >"$work/download.log" 2>&1 ||
        { echo "1..0 # SKIP the kernel package cannot be downloaded"; exit 77; }
    rm -rf "$kernel.new"
    dpkg-deb -x "${cached:-$(ls "$work"/linux-image-*.deb | tail -n 1)}" "$kernel.new" || exit 1
    depmod -b "$kernel.new" "$(ls "$kernel.new/lib/modules")"
    mv "$kernel.new" "$kernel"
fi
sh "$here/mkinitrd.sh" "$kernel" "$program" "$seqtool" "$source/patches" "$work/initrd" || exit 1
rm -rf "$work/out"; mkdir "$work/out"
timeout "${UNDERSONG_VM_SECONDS:-330}" qemu-system-x86_64 -machine pc,accel=tcg -cpu qemu64 -smp 1 -m 512 \
    ${UNDERSONG_VM_CLOCK--icount shift=3,align=off,sleep=off} -nodefaults -no-user-config -nographic -no-reboot -serial stdio -monitor none \
    -kernel "$kernel"/boot/vmlinuz-* -initrd "$work/initrd" \
    -append "console=ttyS0 quiet loglevel=4 mitigations=off nokaslr tsc=reliable no_timer_check random.trust_cpu=on rdinit=/init panic=-1" \
    -fsdev local,id=o,path="$work/out",security_model=none -device virtio-9p-pci,fsdev=o,mount_tag=out \
    </dev/null >"$work/serial.log" 2>&1
grep '^##' "$work/serial.log" | sed 's/^##/#/'
/usr/bin/python3 "$here/judge.py" "$work/out" || { tail -n 20 "$work/serial.log" | sed 's/^/# /'; exit 1; }
