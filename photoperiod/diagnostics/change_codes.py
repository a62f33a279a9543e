"""The codes of changes over dates: acclimation, dark days, moved hours, day plans, parts that are out."""

from __future__ import annotations

from photoperiod.diagnostics.code import Code, Severity

_ERROR, _WARNING, _NOTE = Severity.ERROR, Severity.WARNING, Severity.NOTE

CHANGE_CODES = (
    Code("PHO360", "changes-contradict", _ERROR, "two changes that say different things of one date",
         "Changes of different kinds stack: another day plan, then moved hours, then dark days, then"
         " acclimation. Two of one kind would both say what the same channel does on the same date, and"
         " which was meant is not guessed. A day plan that begins or ends in the middle of an acclimation"
         " changes what its steps are a share of, so that the dose could jump or fall: let it begin with"
         " the acclimation, or after it. Several zones lit by one channel can't be acclimated at different"
         " rates: name them in one change."),
    Code("PHO361", "change-does-nothing", _ERROR, "a change that can't do anything",
         "The channels that it names have nothing that it could change, or its amount is zero. Mostly a"
         " zone or a channel was mistaken for another one. Moonlight is not acclimated: it is mostly near"
         " the floor of its ballast, where there is no step below it."),
    Code("PHO362", "change-not-told-whole", _ERROR, "a change that is not told whole, or told twice",
         "An acclimation names zones or channels, not both. A part that is out is a tube, and what its"
         " ballast does then, or a number of ballasts of a channel. What a ballast does with half of its"
         " tubes gone depends on its kind: some stop for safety, some go on. Look at the lamp, or into its"
         " data sheet."),
    Code("PHO810", "acclimation-out-of-reach", _ERROR, "a step of an acclimation that no table gives",
         "The dose of a channel is scaled on its finished table: peaks get dimmer until a plateau stands at"
         " the floor of the ballast, then the day gets shorter about its middle. Between two levels, and"
         " two rows in time, there is nothing; and a ballast that is never dark gives its floor all night."
         " The finding tells the nearest that a table gives. Begin from there, shade the zone, or raise the"
         " lamps."),
    Code("PHO440", "dose-jumps", _WARNING, "a dose that rises too far from one date to the next",
         "Animals that are used to little light get more of it slowly. The dose is that of the finished"
         " tables, held against the date before: across changes, tables, and from one run to the next by"
         " the ledger. `dose_rise_percent_max` of the zone is the limit, 25 % if you do not say otherwise"
         " (our choice, no source). After at most three dark days the last lit date counts. `changes` with"
         " `kind: acclimation` raises the dose in steps."),
    Code("PHO441", "day-moves-too-far", _WARNING, "a day that moves too far from one date to the next",
         "Corals and fish keep time by light: many spawn and feed by it. The middle of a zone's light is"
         " held against that of the date before; `day_moves_minutes_max` of the zone is the limit, an hour"
         " if you do not say otherwise (our choice, no source). `changes` with `kind: moved-hours` moves"
         " the day by some minutes each day."),
    Code("PHO442", "change-beyond-dates", _NOTE, "a change that goes on after the dates",
         "Only what lies within the dates is in the tables. After the last of them a controller goes on"
         " with the last table: an acclimation then stays at its step, and dark days stay dark. Compile the"
         " next dates with the same `--ledger`, and load them in time."),
    Code("PHO443", "part-is-out", _WARNING, "a zone that gets less because a part is out",
         "A tube or a ballast gives no light. Tables are not changed by that: the other channels go on as"
         " planned. The finding tells what each zone still gets, and how far the days of the others may be"
         " raised within the limits of all zones. Unplug before you relamp: software off is no isolation."),
)  # fmt: skip
