"""The codes of a file's form: reading YAML (1xx), and its shape (2xx)."""

from __future__ import annotations

from photoperiod.diagnostics.code import Code, Severity

_ERROR = Severity.ERROR

FORM_CODES = (
    # 1xx: reading YAML
    Code("PHO100", "empty-file", _ERROR, "the file holds no schedule",
         "The file is empty or holds comments only. If you did not expect that, it may be the wrong file, or"
         " one that was cut off when it was saved. `photoperiod new FILE` writes a first schedule,"
         " where FILE is the name of a file that is not there yet."),
    Code("PHO101", "syntax", _ERROR, "the text is not YAML",
         "The reader could not follow the structure of the text: a missing space after a colon, a"
         " bracket or quote that is never closed, or lines that are not indented alike."),
    Code("PHO102", "repeated-key", _ERROR, "a key stands twice in one mapping",
         "Most readers keep the last of two equal keys and say nothing, so that half of a channel may"
         " be lost. That is dangerous. Remove or rename one of the two."),
    Code("PHO103", "complex-key", _ERROR, "a key is a list or a mapping",
         "A line that begins with `? `, or a bracket before a colon, makes a list or a mapping the key. No"
         " key of a schedule is one, so nothing could ever read it. Mostly a bracket or a colon stands one"
         " word too far. Write `key: value`."),
    Code("PHO104", "too-large", _ERROR, "the file is larger than a schedule can be",
         "A schedule is at most 1 MiB of text and 20,000 values; a value behind an alias counts each"
         " time that the alias is used. A larger file is a mistake or an attack."),
    Code("PHO105", "bad-tagged-value", _ERROR, "a tagged value does not fit its tag",
         "A tag such as `!!int` promises a kind of value that the text does not hold. Leave the tag"
         " out: the reader knows numbers, words, true, false and null without it."),
    Code("PHO106", "unreadable-character", _ERROR, "the text holds a character that YAML forbids",
         "Control characters (NUL, BEL, escape) and lone surrogates can't stand in a schedule: a terminal"
         " would obey some of them instead of showing them. The file may be a binary file, or damaged; or"
         " text was copied from a page or a PDF. Delete the character and type it anew."),
    Code("PHO107", "unknown-tag", _ERROR, "a tag this language does not know",
         "Tags that construct objects or include files are not part of the language. Only the core"
         " tags of YAML 1.2 (`!!str`, `!!int`, `!!float`, `!!bool`, `!!null`, `!!map`, `!!seq`) are."),
    Code("PHO108", "merge-key", _ERROR, "the merge key `<<` is not part of YAML 1.2",
         "Programs differ in what `<<` does to keys that stand twice, so the same file could mean two days."
         " Write the keys out, or give the whole mapping an anchor (`&name`) and use it with `*name`."),
    Code("PHO109", "not-utf-8", _ERROR, "the file is not UTF-8 text",
         "Save the file as UTF-8. In an old encoding such as Latin-1 a degree sign or an accented"
         " letter is a byte that UTF-8 does not allow there."),
    Code("PHO110", "too-deep", _ERROR, "values are nested too deeply",
         "A schedule is at most 60 levels deep; a real one needs eight. Deeper ones come from a program that"
         " wrote brackets without end, and they could stop the reader itself."),
    Code("PHO111", "second-document", _ERROR, "the file holds more than one document",
         "A line `---` begins another document. One file is one schedule: with two, nobody could tell which"
         " one the lamps follow. Remove the rest or save it as a file of its own."),
    Code("PHO112", "not-a-finite-number", _ERROR, "a number that is not finite or far too long",
         "Infinity, not-a-number and numbers of hundreds of digits have no meaning as light, volts or time."
         " A limit that is no number would be kept by any light. Write the number that you measured, or leave"
         " the key out."),
    Code("PHO113", "alias-in-itself", _ERROR, "an alias stands inside what it names",
         "`&a [*a]` would be endless: to write it out, it would have to be written out first. Mostly the"
         " wrong name stands behind the `*`. Write the value out, or name another anchor."),
    Code("PHO114", "tab", _ERROR, "a tab where YAML wants spaces",
         "YAML indents with spaces only, because a tab is as wide as each editor likes, and the indent says"
         " which channel a line belongs to. Most editors can be told to insert spaces for the tab key."),
    Code("PHO115", "unknown-alias", _ERROR, "an alias that names no anchor",
         "`*name` repeats a value marked `&name` further up. There is no such mark above this line: it is"
         " misspelt, or stands further down. Text that begins with a `*` needs quotes."),
    # 2xx: shape
    Code("PHO201", "unknown-key", _ERROR, "a key that the language does not know here",
         "The language refuses keys that it does not know, so that a misspelt setting is never"
         " ignored. `docs/language.md` lists the keys of each place."),
    Code("PHO202", "missing-key", _ERROR, "a key that must be there is missing",
         "Values that depend on the hardware have no default: the compiler does not guess the floor"
         " of a ballast, or what a controller does after its last row."),
    Code("PHO203", "wrong-type", _ERROR, "a value of the wrong kind",
         "A value is read as what it looks like: `12` is a number, `twelve` and `54 W` are text, `[9, 14]`"
         " is a list, `{kind: relay}` a mapping. The unit stands in the name of the key or in"
         " `docs/language.md`, never behind the number. A key with nothing behind it has no value at all."),
    Code("PHO204", "not-allowed", _ERROR, "a word that is not allowed here",
         "Such a word decides how the table is computed: with `between: hold` in place of `line` the same"
         " rows give other light for hours. So a word that is nearly right is not taken for one that is."
         " `docs/language.md` says what each word means; where the hardware decides, look there, not for the"
         " word that is accepted."),
    Code("PHO205", "out-of-range", _ERROR, "a number outside its range",
         "No lamp, port or animal has such a value. Mostly another unit was meant: millivolts for volts, 0.8"
         " for 80 %, hours for minutes. Percentages go from 0 to 100, control volts from 0 to 10."
         " `docs/language.md` has the range and the unit of each key."),
    Code("PHO206", "wrong-form", _ERROR, "text in a wrong form",
         "Times are `HH:MM` or `HH:MM:SS`, dates `YYYY-MM-DD`, ids small letters, digits and hyphens. One"
         " form each, because others mean different things to different people: 03.02.2027 is in March or in"
         " February. Ids stand in tables and ledgers, so they are kept plain; a `label` or the `title` may"
         " hold any text."),
    Code("PHO207", "wrong-count", _ERROR, "too few or too many items or characters",
         "Some things are of a fixed number: a band of dose has two ends, a converter is measured at two"
         " codes, a day has a peak. With less there is nothing to compute, and of more the compiler would"
         " have to choose. Decimals with a comma make two numbers of one: write 3.5, not 3,5."),
    Code("PHO208", "repeated-item", _ERROR, "an item stands twice in a list",
         "The second one is either left over or meant to be another: a tube that is listed twice would count"
         " twice in watts and light. Remove it, or write the one that you meant."),
    Code("PHO209", "not-built-yet", _ERROR, "a part of the language that is reserved",
         "A later version of the program will know this. Until then it is refused, because to ignore it"
         " would be dangerous: you would trust a plan that nothing carries out. Take it out for now."),
    Code("PHO210", "other-version", _ERROR, "a version of the language this program does not read",
         "The first key `schedule` gives the version of the language. This program reads version 1. In"
         " another version the same words may mean other light, so changing the number alone is no way out:"
         " look into the changelog for what changed."),
)  # fmt: skip
