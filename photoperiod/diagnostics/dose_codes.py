"""The codes of doses that are asked for: what can't be looked for, and what was not found."""

from __future__ import annotations

from photoperiod.diagnostics.code import Code, Severity

_ERROR = Severity.ERROR

DOSE_CODES = (
    Code("PHO340", "wanted-dose-refused", _ERROR, "a dose that is asked for where no day can be looked for",
         "A day is looked for among the channels that have `may_move`. One of them must light the zone, and"
         " the light of every channel must be known there, because an unknown light would be left out of the"
         " dose. What follows the sky gives another dose on each date, and a table stands for many dates, so"
         " that no one dose is right: write what all dates must keep as `dli`."),
    Code("PHO341", "may-not-move", _ERROR, "a day that can't be moved",
         "Only days of `kind: ramps` with clock times can be moved so far: peaks go up and down, both ends"
         " move by the same time. A channel that keeps its ratio to another one needs one whose own"
         " `peak_light_percent` moves. For other days, change the light yourself and compile again."),
    Code("PHO342", "wanted-outside-limits", _ERROR, "a dose that is asked for outside the limits of the zone",
         "`dli` says what the animals must at least and at most get, `wanted_dli` what they should get. A"
         " dose outside the limits can't be meant. Mostly one of them was changed and the other forgotten."),
    Code("PHO803", "dose-not-found", _ERROR, "a dose that is asked for and that no day gives",
         "Within what may move no day was found whose table gives the dose and keeps every limit, night and"
         " rise. A night or a rise that the day in the file does not keep is made no worse. The finding tells"
         " the nearest dose that was found, what stands against more, and what alone would free it; each was"
         " tried. Nothing is written: a day that is only near was not asked for. Change slowly,"
         " because animals need weeks to get used to more light."),
    Code("PHO514", "solver-missing", _ERROR, "a library that finding doses needs, and that is not installed",
         "A linear programme proposes the peaks and the length of the day, and SciPy solves it. It is large,"
         " so that it comes only with the extra `solve`: `pip install '.[solve]'` in the checkout, or"
         " `'photoperiod[solve]'` if the program was installed by that name. Without `wanted_dli` nothing"
         " needs it. Exit code 4."),
)  # fmt: skip
