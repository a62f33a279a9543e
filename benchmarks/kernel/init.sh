#!/bin/sh
# The first process of the small kernel. Its root is that of the host, read only; what it writes is in memory.
mount -t proc proc /proc
mount -t sysfs sys /sys
mount -t devtmpfs dev /dev 2>/dev/null
mount -t configfs config /sys/kernel/config
mount -t tmpfs run /run
ip link set lo up 2>/dev/null
export PATH=/usr/sbin:/usr/bin:/sbin:/bin HOME=/run TMPDIR=/run
cd "$BOARD_ROOT" && "$BOARD_PYTHON" -u benchmarks/kernel/inside.py
echo "exit code $?"
"$BOARD_PYTHON" -c 'import ctypes, os; os.sync(); ctypes.CDLL(None).reboot(0x01234567)'
