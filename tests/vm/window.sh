#!/bin/sh
# window.sh PROGRAM SEQTOOL WORK-FOLDER: the real window in the virtual machine, which has a real ALSA sequencer: it
# sees this machine's files, read-only, with a layer of memory over them, and there window.py runs on a screen of its
# own.  Exit status 77 (skipped, with the reason) where the kernel or a tool is missing.
set -u
program=$(realpath "$1"); seqtool=$(realpath "$2"); work=$(realpath "$3")
here=$(cd "$(dirname "$0")" && pwd)
. "$here/boot.sh"
need_kernel
need Xvfb xdotool dbus-run-session
root=$(mktemp -d)
trap 'rm -rf "$root"' EXIT
add_busybox "$root" sh mount insmod cat mkdir poweroff chroot sync umount
add_modules "$root" virtio_pci 9p 9pnet_virtio overlay snd-seq snd-seq-dummy
cp "$here/window_guest.sh" "$root/init"
chmod +x "$root/init"
pack "$root" "$work/window-initrd" || exit 1
rm -rf "$work/window-out"; mkdir "$work/window-out"
cat >"$work/window-out/run" <<END
cd '$here'
/usr/bin/python3 -u '$here/window.py' '$program' '$seqtool' >/mnt/log 2>&1
echo \$? >/mnt/status
END
boot "${UNDERSONG_VM_SECONDS:-800}" 1024 "$work/window-initrd" "$work/window-out" \
    -fsdev local,id=h,path=/,security_model=none,readonly=on,multidevs=remap -device virtio-9p-pci,fsdev=h,mount_tag=host \
    >"$work/window-serial.log" 2>&1
cat "$work/window-out/log" 2>/dev/null
status=$(cat "$work/window-out/status" 2>/dev/null)
[ -n "$status" ] || { tail -n 20 "$work/window-serial.log"; exit 1; }
exit "$status"
