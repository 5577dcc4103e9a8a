#!/bin/sh
# The guest's first process for window.sh: the host's files as they are, a layer of memory over them, and in there
# what the host has written into /mnt/run.
export PATH=/bin
mount -t proc p /proc; mount -t sysfs s /sys; mount -t devtmpfs d /dev
for m in $(cat /etc/modorder); do
    insmod /lib/modules/"$m" || echo "insmod $m failed"
done
mkdir -p /host /layer /new
mount -t 9p -o trans=virtio,version=9p2000.L,ro,cache=loose,msize=262144 host /host || echo "no files of the host"
mount -t tmpfs t /layer; mkdir /layer/over /layer/work
mount -t overlay -o lowerdir=/host,upperdir=/layer/over,workdir=/layer/work o /new || echo "no layer"
mount -t 9p -o trans=virtio,version=9p2000.L out /new/mnt || echo "no folder of the host"
mount -t proc p /new/proc; mount -t sysfs s /new/sys; mount -t devtmpfs d /new/dev
mkdir -p /new/dev/shm; mount -t tmpfs s /new/dev/shm
export PATH=/usr/bin:/bin HOME=/root LC_ALL=C.UTF-8
chroot /new /bin/sh /mnt/run
sync; umount /new/mnt; poweroff -f
