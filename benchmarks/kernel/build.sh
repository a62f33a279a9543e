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
  # A line that hangs, as behind a bus that is stuck: calls wait in the kernel while
  # /sys/module/gpio_sim/parameters/hangs says Y, and no signal ends them.
  sed -i -f - unpacked/drivers/gpio/gpio-sim.c <<'EDITS'
/^static int gpio_sim_get(/i\
#include <linux/delay.h>\
#include <linux/moduleparam.h>\
static bool hangs;\
module_param(hangs, bool, 0644);\
static void gpio_sim_hang(void)\
{\
	while (READ_ONCE(hangs))\
		msleep(20);\
}\

/gpio_sim_\(get\|set\|get_multiple\|set_multiple\|direction_output\)(/,/^}/s/^\tmutex_lock/\tgpio_sim_hang();\n&/
EDITS
  if [ "$(grep -c 'gpio_sim_hang()' unpacked/drivers/gpio/gpio-sim.c)" != 5 ]; then
    echo "gpio-sim.c is written another way: its lines can't be made to hang" >&2
    exit 1
  fi
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
# CONFIG_BLK_DEV_INITRD is not set
# CONFIG_ETHTOOL_NETLINK is not set
# CONFIG_INET_DIAG is not set
# CONFIG_INPUT is not set
# CONFIG_IPV6 is not set
# CONFIG_VT is not set
# CONFIG_WIRELESS is not set
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
