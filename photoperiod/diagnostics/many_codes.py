"""The codes of many tanks: parts that they share, and a cluster that works on them."""

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
    Code("PHO519", "cluster-refused", _ERROR, "a cluster that can't be worked with",
         "Nobody listens at the address of `--cluster`, no worker came in time, or a worker has another"
         " version of photoperiod or of its zone data, or none. Each table tells by what it was made, and"
         " other versions may make other bytes, so such a worker is refused by name and nothing is begun."
         " Install the same versions on all machines, or leave out `--cluster`: then this machine does the"
         " work. Exit code 4."),
    Code("PHO520", "cluster-lost", _ERROR, "a tank that a cluster did not finish",
         "The scheduler went away, no worker was left for the time of `--cluster-wait`, or the workers died"
         " one after the other at this file, often for want of memory. What had come back was written whole;"
         " of this file nothing was. Run the command again with the files that are missing: it replaces each"
         " folder as a whole. Exit code 4."),
    Code("PHO521", "cluster-library-missing", _ERROR,
         "a library for clusters that is not installed",
         "`--cluster` speaks with its workers by dask.distributed. It comes with the extra `cluster`:"
         " `pip install '.[cluster]'` in the checkout, or `'photoperiod[cluster]'` if the program was"
         " installed by that name. Work on this machine needs no such library. Exit code 4."),
)  # fmt: skip
