# Sourced by the scripts that boot the virtual machine: needs $work, a folder; ends the caller with 77 and a reason
# where a tool or the kernel is missing.

need() {
    for tool in "$@"; do
        command -v "$tool" >/dev/null || { echo "1..0 # SKIP $tool is not installed"; exit 77; }
    done
}

# Debian's kernel, unpacked into $kernel; once for all scripts, whichever comes first.
need_kernel() {
    need qemu-system-x86_64 busybox cpio zstd depmod modprobe dpkg-deb flock
    mkdir -p "$work"
    kernel=$work/kernel
    exec 8>"$work/lock"
    flock 8
    [ -d "$kernel/boot" ] || unpack_kernel
    exec 8>&-
}

unpack_kernel() {
    package=$(apt-cache depends linux-image-amd64 2>/dev/null | awk '/Depends: linux-image-[0-9]/ {print $2; exit}')
    [ -n "$package" ] || { echo "1..0 # SKIP no Debian kernel package is known here"; exit 77; }
    cached=$(ls "${UNDERSONG_KERNEL_DEB:-/nowhere}" 2>/dev/null)
    (cd "$work" && { [ -n "$cached" ] || apt-get download -q "$package"; }) >"$work/download.log" 2>&1 ||
        { echo "1..0 # SKIP the kernel package cannot be downloaded"; exit 77; }
    rm -rf "$kernel.new"
    dpkg-deb -x "${cached:-$(ls "$work"/linux-image-*.deb | tail -n 1)}" "$kernel.new" || exit 1
    depmod -b "$kernel.new" "$(ls "$kernel.new/lib/modules")"
    mv "$kernel.new" "$kernel"
}

# add_modules ROOT NAME...: with what they need, and the order in which they are loaded in ROOT/etc/modorder.
add_modules() {
    root=$1; shift
    version=$(ls "$kernel/lib/modules")
    mkdir -p "$root/lib/modules" "$root/etc"
    : >"$root/etc/modorder"
    for module in "$@"; do
        modprobe -d "$kernel" -S "$version" --show-depends "$module" | while read -r word file rest; do
            [ "$word" = insmod ] || continue
            name=$(basename "$file")
            grep -qx "$name" "$root/etc/modorder" && continue
            cp "$file" "$root/lib/modules/$name"
            echo "$name" >>"$root/etc/modorder"
        done
    done
}

# add_busybox ROOT NAME...
add_busybox() {
    root=$1; shift
    mkdir -p "$root"/bin "$root"/dev "$root"/proc "$root"/sys "$root"/tmp "$root"/mnt "$root"/root
    cp /bin/busybox "$root/bin/"
    for name in "$@"; do ln -s busybox "$root/bin/$name"; done
}

pack() { (cd "$1" && find . | cpio -o -H newc --quiet | zstd -q -3 -T0) >"$2"; }

# boot SECONDS MEGABYTES INITRD OUT WORDS...: what the guest prints comes out, OUT is its folder `out`; more words
# for qemu.
boot() {
    seconds=$1; memory=$2; initrd=$3; out=$4; shift 4
    timeout "$seconds" qemu-system-x86_64 -machine pc,accel=tcg -cpu "${UNDERSONG_VM_CPU:-qemu64}" -smp 1 -m "$memory" "$@" \
        -nodefaults -no-user-config -nographic -no-reboot -serial stdio -monitor none \
        -kernel "$kernel"/boot/vmlinuz-* -initrd "$initrd" \
        -append "console=ttyS0 quiet loglevel=4 mitigations=off nokaslr tsc=reliable no_timer_check random.trust_cpu=on rdinit=/init panic=-1" \
        -fsdev local,id=o,path="$out",security_model=none -device virtio-9p-pci,fsdev=o,mount_tag=out </dev/null
}
