"""A real player on a real kernel: GPIO lines, a converter and an LED that the kernel itself simulates.

    benchmarks/kernel/build.sh /var/tmp/board-kernel
    python benchmarks/kernel/run.py /var/tmp/board-kernel/bzImage

Starts the kernel in QEMU with this machine's files as its root, read only, and runs `inside.py` there. Prints what
was seen, and `failed: 0` last; exit code 1 if anything failed. Needs qemu-system-x86; by hand, not in CI.
"""

from __future__ import annotations

import argparse
import compileall
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from tests.board.bench import HOUR, table  # noqa: E402

#: A lit day, with a soft start of a minute.
DAY = (9 * HOUR, 40), (10 * HOUR, 80), (20 * HOUR, 80), (21 * HOUR, 0, "off")


def command(image: Path, accel: str, day: Path, look: str | None) -> list[str]:
    """Return how the kernel is started."""
    settings = {
        "root": "host",
        "rootfstype": "9p",
        "rootflags": "trans=virtio,version=9p2000.L,cache=loose,msize=262144",
        "console": "ttyS0",
        "panic": "-1",
        "init": str(ROOT / "benchmarks" / "kernel" / "init.sh"),
        "BOARD_ROOT": str(ROOT),
        "BOARD_TABLE": str(day),
        "BOARD_PYTHON": sys.executable,
    }
    if look is not None:
        settings["BOARD_LOOK"] = look
    words = " ".join(f"{key}={value}" for key, value in settings.items())
    share = "local,path=/,mount_tag=host,security_model=none,readonly=on,multidevs=remap"
    # By instructions, the kernel's time does not run away from a player that a busy machine makes slow.
    pace = ["-icount", "shift=0,sleep=on"] if accel == "tcg" else []
    return [
        *("qemu-system-x86_64", "-machine", f"q35,accel={accel}", "-cpu", "max", "-m", "1024"),
        *("-nodefaults", "-no-user-config", "-display", "none", "-serial", "stdio", "-no-reboot"),
        *pace,
        *("-rtc", "base=2027-03-02T12:00:00", "-virtfs", share),
        *("-kernel", str(image), "-append", f"{words} ro quiet"),
    ]


def main() -> int:
    """Run the kernel; show what it says."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("image", type=Path, help="the kernel that build.sh wrote")
    parser.add_argument("--accel", default="tcg", help="kvm, where this machine has it")
    parser.add_argument("--look", help="look at these alone, such as kills,the_end")
    options = parser.parse_args()
    # Inside, nothing can be written: each player would compile all modules anew.
    compileall.compile_dir(ROOT / "photoperiod", quiet=1)
    with tempfile.NamedTemporaryFile(suffix=".json") as day, subprocess.Popen(
        command(options.image, options.accel, Path(day.name), options.look), stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, text=True,
        errors="replace",
    ) as kernel:  # fmt: skip
        assert kernel.stdout is not None
        day.write(table(*DAY, channels=("blue", "white"), every_seconds=1, soft_minutes=1))
        day.flush()
        is_good = False
        for line in kernel.stdout:
            print(line.rstrip("\r\n"), flush=True)
            is_good |= line.strip() == "failed: 0"
    return 0 if is_good else 1


if __name__ == "__main__":
    sys.exit(main())
