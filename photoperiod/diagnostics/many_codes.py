"""The codes of many tanks: parts that they share."""

from __future__ import annotations

from photoperiod.diagnostics.code import Code, Severity

_ERROR = Severity.ERROR

MANY_CODES = (
    Code("PHO370", "parts-not-read", _ERROR, "a file of parts that can't be read",
         "`parts` names the file with what several tanks share. Its path is that from the folder of the"
         " schedule, with `/`, never from the root of the disk, so that the folder can be moved. A schedule"
         " from standard input has no folder, so it can name no file. What would have come from the file is"
         " left out, and the rest of the schedule is still checked."),
    Code("PHO371", "said-twice", _ERROR, "something that the schedule and its file of parts both say",
         "Each thing is said in one place, so that a mend in the shared file reaches every tank that names"
         " it. If one of the two won in silence, a limit or a calibration that was put right there would"
         " stay wrong in some tanks. Remove one of them. A tank that differs gets a part of another name,"
         " or names another file."),
    Code("PHO372", "no-parts-file", _ERROR, "a file that is named as parts and is something else",
         "A file of parts begins with `parts: 1` and holds a controller, ballasts, and kinds of tubes and"
         " zones. A schedule is no such file, and parts name no further parts: what a tank gets is seen in"
         " two files at most, and no circle of files can arise."),
)  # fmt: skip
