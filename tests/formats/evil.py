"""What people could write into a schedule to break out of a comment."""

from __future__ import annotations

from photoperiod.formats.about import About, AcceptedFinding
from photoperiod.formats.image import Image
from tests.targets.images import about, channel

EVIL = (
    "*/ int evil = 1; /*",
    "**//* */#error evil",
    "*\\",
    "??/",
    "*??/\n/ int evil;",
    "\\\n#error evil",
    "x\n#error evil",
    "x\r\x0b\x0c\x85\u2028\u2029#error evil",
    '"""\nraise SystemExit\n"""',
    "'''\\\nimport evil",
    "# \rimport evil",
    "\u202e/* evil \u2066*/\u2069",
    "\ufeff\x00\x1a\x7f\ud800",
    "%:define evil",
    '_Pragma("GCC error") ??= ??\' \\u002a/',
)


def evil_about(made: Image, text: str) -> About:
    return about(
        made,
        title=text,
        made_with=text,
        zone_data=text,
        time_zone=text,
        cautions=(text, text + text),
        accepted=(AcceptedFinding("PHO401", "x", message=text, path="", because=text),),
        channels={"lamp": channel(text)},
    )
