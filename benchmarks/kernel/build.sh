#!/usr/bin/env bash
# Builds a small kernel with simulated pins, converters and LEDs, from Debian's kernel source; see run.py.
#
#     benchmarks/kernel/build.sh FOLDER      # writes FOLDER/bzImage; seventeen minutes on two busy cores, for what Debian calls 6.1
#
# Needs: apt-get install --no-install-recommends linux-source-6.1 build-essential flex bison bc libelf-dev xz-utils
set -euo pipefail

folder=${1:?usage: build.sh FOLDER}
source=$(ls /usr/src/linux-source-*.tar.xz | tail -n 1)
mkdir -p "$folder"
cd "$folder"
if [ ! -d linux ]; then
  rm -rf unpacked
  mkdir unpacked
  tar -xJf "$source" -C unpacked --strip-components=1
  mv unpacked linux
fi
cd linux

cat > .config-board <<'OPTIONS'
CONFIG_64BIT=y
CONFIG_LOCALVERSION="-board"
CONFIG_MULTIUSER=y
CONFIG_POSIX_TIMERS=y
CONFIG_HIGH_RES_TIMERS=y
CONFIG_PRINTK=y
CONFIG_BUG=y
CONFIG_FUTEX=y
CONFIG_EPOLL=y
CONFIG_SIGNALFD=y
CONFIG_TIMERFD=y
CONFIG_EVENTFD=y
CONFIG_SHMEM=y
CONFIG_AIO=y
CONFIG_FILE_LOCKING=y
CONFIG_ADVISE_SYSCALLS=y
CONFIG_MEMBARRIER=y
CONFIG_RSEQ=y
CONFIG_BINFMT_ELF=y
CONFIG_BINFMT_SCRIPT=y
CONFIG_BLK_DEV_INITRD=y
CONFIG_TTY=y
CONFIG_UNIX98_PTYS=y
CONFIG_SERIAL_8250=y
CONFIG_SERIAL_8250_CONSOLE=y
CONFIG_PROC_FS=y
CONFIG_PROC_SYSCTL=y
CONFIG_SYSFS=y
CONFIG_CONFIGFS_FS=y
CONFIG_DEVTMPFS=y
CONFIG_TMPFS=y
CONFIG_NET=y
CONFIG_UNIX=y
CONFIG_INET=y
CONFIG_PCI=y
CONFIG_VIRTIO_MENU=y
CONFIG_VIRTIO_PCI=y
CONFIG_NETWORK_FILESYSTEMS=y
CONFIG_NET_9P=y
CONFIG_NET_9P_VIRTIO=y
CONFIG_9P_FS=y
CONFIG_HYPERVISOR_GUEST=y
CONFIG_PARAVIRT=y
CONFIG_KVM_GUEST=y
CONFIG_GPIOLIB=y
CONFIG_GPIO_CDEV=y
CONFIG_GPIO_SIM=y
CONFIG_NEW_LEDS=y
CONFIG_LEDS_CLASS=y
CONFIG_LEDS_USER=y
CONFIG_LEDS_TRIGGERS=y
CONFIG_LEDS_TRIGGER_TIMER=y
CONFIG_IIO=y
CONFIG_IIO_CONFIGFS=y
CONFIG_IIO_SW_DEVICE=y
CONFIG_IIO_SIMPLE_DUMMY=y
OPTIONS

make -s tinyconfig
scripts/kconfig/merge_config.sh -m .config .config-board >/dev/null 2>&1
make -s olddefconfig
missing=$(grep -vxFf .config .config-board || true)
if [ -n "$missing" ]; then
  printf 'the kernel does not take:\n%s\n' "$missing" >&2
  exit 1
fi
nice make -s -j2 bzImage
cp arch/x86/boot/bzImage ../bzImage
make -s kernelrelease
