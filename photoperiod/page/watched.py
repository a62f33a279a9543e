"""Files that are watched: whether one of them was saved since the last look."""

from __future__ import annotations

import threading
from collections.abc import Iterable
from pathlib import Path

#: Files are looked at this often [s].
LOOK_S = 0.1

#: A file that was just written is read when it stayed the same for this long: editors write in parts [s].
SETTLE_S = 0.05

#: When a file was written, how large it is, which file it is, and when its rights changed; None where there
#: is none.
Sign = tuple[int, int, int, int] | None


class Watched:
    """Some files, and what they looked like when they were last read."""

    def __init__(self, paths: Iterable[Path]) -> None:
        self._signs: dict[Path, Sign] = {path: sign_of(path) for path in paths}

    def watch(self, paths: Iterable[Path]) -> None:
        """Watch other files from now on; those that stay keep what they looked like."""
        self._signs = {
            path: self._signs[path] if path in self._signs else sign_of(path) for path in paths
        }

    def has_changed(self) -> bool:
        """Return whether a file looks another way than before; from now on that is how it looks."""
        now = {path: sign_of(path) for path in self._signs}
        changed = now != self._signs
        self._signs = now
        return changed

    def wait(self, stop: threading.Event) -> bool:
        """Wait until a file was saved and stays as it is; False if ``stop`` was set first."""
        while not stop.wait(LOOK_S):
            if self.has_changed():
                while not stop.wait(SETTLE_S) and self.has_changed():
                    pass
                return not stop.is_set()
        return False


def sign_of(path: Path) -> Sign:
    """Return what tells that a file was saved; None if it can't be looked at."""
    try:
        found = path.stat()
    except (OSError, ValueError):
        return None
    return found.st_mtime_ns, found.st_size, found.st_ino, found.st_ctime_ns
