"""The codes of files of readings (9xx)."""

from __future__ import annotations

from photoperiod.diagnostics.code import Code, Severity

_ERROR, _WARNING, _NOTE = Severity.ERROR, Severity.WARNING, Severity.NOTE

READINGS_CODES = (
    # 9xx: readings
    Code("PHO901", "readings-not-read", _ERROR, "a file of readings that can't be read",
         "The file is missing, is a folder, is far too large, or is no text in UTF-8. Its path is that from"
         " the folder of the schedule; a schedule from standard input has no folder."),
    Code("PHO902", "two-ways-to-read", _ERROR, "a file of readings that can be read in two ways",
         "Cells can be separated by commas, semicolons or tabs, and decimals have a point or a comma. Which"
         " it is must follow from the file: `12,500` alone is 12.5 or 12500. Nothing is guessed."),
    Code("PHO903", "bad-columns", _ERROR, "columns that are missing, unknown or there twice",
         "The first line of a file of readings names its columns, each with its unit: `depth_cm`,"
         " `ppfd_umol_m2_s`. A column that begins with `note` is for people. A map needs `channel`,"
         " `level_percent` or `volts`, `immersion_applied`, `ppfd_umol_m2_s` or `lux`, and the place:"
         " `zone`, or `x_cm`, `y_cm` and `depth_cm`. A sweep needs `level_percent` or `volts`, and"
         " `ppfd_umol_m2_s` or `lux`. A series needs `lit_hours`, and `ppfd_umol_m2_s` or `lux`."),
    Code("PHO904", "bad-cell", _ERROR, "a cell that can't be used",
         "A cell holds a number, a date, yes or no, or an id, and nothing else. Numbers have a range"
         " outside of which they are slips of the pen."),
    Code("PHO905", "copied-row", _WARNING, "a row that repeats another one cell by cell",
         "A point that is read again is welcome. But two rows of which not even the last digit differs are"
         " probably a copy, which would count twice."),
    Code("PHO906", "reading-stands-out", _WARNING, "a reading that does not fit those around it",
         "It is compared with a smooth trend through the other readings of the same channel; of few"
         " points with those of other places at the same depths. The usual reasons are a digit too many,"
         " exchanged rows, a shadow, or a sensor that was not level. It is used as it stands: correct it,"
         " measure again, or write into the column `leave_out` why not."),
    Code("PHO907", "meter-in-doubt", _WARNING, "readings that look like a meter at its end",
         "Several readings are exactly alike where light differs. A meter at the end of its range shows the"
         " same number everywhere; one that hangs does, too."),
    Code("PHO908", "too-few-readings", _ERROR, "readings that do not tell what is asked",
         "Where several channels were on at once, there must be as many different readings at the same place"
         " as there are channels. Full light must be told by each channel's own readings."),
    Code("PHO909", "readings-changed-by-file", _NOTE, "readings that the file corrects or leaves out",
         "Readings under water are multiplied by the immersion factor of the sensor where the file says"
         " that this is still to be done. Rows with a reason in the column `leave_out` are not used."),
    Code("PHO910", "readings-disagree", _ERROR, "a schedule and its readings that say different things",
         "The dates, the channels, the zones or the digest in the schedule are not those of the file. One"
         " of them was changed, or the file is that of another tank."),
    Code("PHO911", "lux-without-spectrum", _ERROR, "lux where PPFD is needed",
         "A lux meter weighs light as eyes do. What a lux is worth for animals depends on the spectrum: from"
         " 1 lux for each µmol of violet LED light to more than 100 of green. Measure PPFD."),
    Code("PHO912", "sweep-in-doubt", _ERROR, "a sweep that tells no curve",
         "More volts must not give less light, and one pair of volts and ballast has one light. Rounding and"
         " noise of a cheap meter are levelled; more than that points to two ballasts in one file, to"
         " exchanged rows, or to a lamp that was not yet warm."),
    Code("PHO913", "light-jumps", _WARNING, "a sweep in which light jumps",
         "Between two points the light rises far more than beside them. Either the ballast does so, or a"
         " reading is wrong: between the points the curve is a straight line that nobody has measured."),
    Code("PHO914", "series-in-doubt", _ERROR, "a series that is not of one thing",
         "How fast tubes fade is told by readings of the same channel at the same place and level, with the"
         " same tubes. Otherwise a new place or new tubes would look like fading, or hide it, and tubes"
         " would be replaced too early or too late for the animals."),
    Code("PHO915", "depth-in-doubt", _WARNING, "light that falls with depth as it hardly can",
         "Near a fixture light falls by about one part in the distance; clear water takes a few per cent in"
         " a metre. A far smaller or larger fall mostly means that depths are in another unit, or that two"
         " columns were exchanged."),
    Code("PHO916", "spectrum-unfit", _ERROR, "a spectrum that does not tell what is asked",
         "PPFD counts photons from 400 to 700 nm: the spectrum of a channel, and the weights of an action"
         " spectrum, must reach over all of them. What a lux is worth hangs on the spectrum, too: eyes hardly"
         " see violet, blue and deep red light, so that a few nanometres decide there; a dose from such lux"
         " would be wrong by a quarter or more, and animals could bleach. Spectra of the CIE, and lux, need"
         " the extra `spectra`: `pip install '.[spectra]'` in the checkout, or `'photoperiod[spectra]'` if"
         " the program was installed by that name."),
    Code("PHO917", "beyond-readings", _WARNING, "light of a zone that nobody has read, above or below",
         "The schedule says `beyond_readings: fall-off`: at points above or below all readings of their place"
         " the light follows the fall-off of the channel in this tank. Near tubes light rises faster than"
         " that, and near walls it falls otherwise, so that a limit may be passed unseen. Every output says"
         " so. Read there as soon as you can."),
)  # fmt: skip
