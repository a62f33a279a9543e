"""The table of diagnostic codes. A code never changes its meaning and is never used again."""

from __future__ import annotations

from photoperiod.diagnostics.change_codes import CHANGE_CODES
from photoperiod.diagnostics.code import Code, Severity
from photoperiod.diagnostics.dose_codes import DOSE_CODES
from photoperiod.diagnostics.form_codes import FORM_CODES
from photoperiod.diagnostics.many_codes import MANY_CODES
from photoperiod.diagnostics.page_codes import PAGE_CODES
from photoperiod.diagnostics.readings_codes import READINGS_CODES
from photoperiod.diagnostics.upkeep_codes import UPKEEP_CODES

__all__ = ["BY_NAME", "CODES", "HARD_NAMES", "Code", "Severity"]

_ERROR, _WARNING, _NOTE = Severity.ERROR, Severity.WARNING, Severity.NOTE

_ALL = (
    *FORM_CODES,
    # 3xx: meaning
    Code("PHO301", "unknown-name", _ERROR, "a name that is not defined",
         "Names must be the same, letter by letter, where they are defined and where they are used. A"
         " channel names its ballast and its tubes, and `full_ppfd` names zones, by the ids under `ballasts`,"
         " `tubes` and `zones`. If a name that is not there were ignored, a zone would get light that no"
         " limit counts."),
    Code("PHO302", "used-twice", _ERROR, "a tube in two places",
         "A tube burns in one place, so it can stand once, on one channel. Otherwise its hours and"
         " its share of the light would count twice."),
    Code("PHO303", "out-of-order", _ERROR, "times that do not follow one another",
         "Write peaks and points in the order in which they happen. In a day that crosses midnight the"
         " times after midnight come last, such as 22:00, 23:00, 01:00; it can cross midnight once."),
    Code("PHO304", "ramps-overlap", _ERROR, "a ramp begins before the one before it has ended",
         "Between the two times the channel would have to rise and fall at once, and the compiler does not"
         " choose for you. Move or shorten one ramp by the minutes that the message names. Peaks begin with"
         " their ramp: `from` is its start, not its end."),
    Code("PHO305", "day-too-long", _ERROR, "a day of more than 24 hours",
         "From its first to its last light a day lasts more than 0 and at most 24 hours. For light"
         " around the clock write points from 00:00 to 24:00."),
    Code("PHO306", "no-such-date", _ERROR, "a date or time that does not exist",
         "The date has the right form, but no calendar has it, such as 30 February; or it lies so far"
         " back that no tube of that time can still burn."),
    Code("PHO307", "no-way-to-dark", _ERROR, "a ballast that needs a relay, on a controller without one",
         "`dark: {kind: relay}` says that only cutting the mains makes this ballast dark. Give the"
         " controller a relay (`relay: {kind: column}` or `{kind: follows-level}`), or say"
         " `dark: {kind: never}` and plan for a night at the floor."),
    Code("PHO308", "floor-above-full", _ERROR, "a floor that is not below full",
         "The floor is the least light that the ballast can hold, so there must be something above it to"
         " dim. Mostly the two volts are swapped, or the floor is that of another ballast. The floor's volts"
         " must be below `full_volts`, and its light below 100 %."),
    Code("PHO309", "standby-above-floor", _ERROR, "standby volts above the floor volts",
         "A ballast goes into standby below its floor volts, never above them. The wrong way round, a lamp"
         " that you count as lit at its floor would be dark. Mostly the two numbers are swapped. Lower the"
         " volts slowly: first the light stops changing (floor), then it goes out (standby)."),
    Code("PHO310", "not-rising", _ERROR, "a measured response that falls",
         "More volts must not give less light. Small dips of up to 2 % light are taken for noise of"
         " the meter and levelled (PHO311). A larger one means that two points were exchanged, or that"
         " the lamp was not yet warm."),
    Code("PHO311", "response-levelled", _WARNING, "small dips in a measured response were levelled",
         "Neighbouring points that fall by at most 2 % light are replaced by their mean (pool"
         " adjacent violators). Measure again with a warm lamp if the dips matter."),
    Code("PHO312", "dead-zone", _NOTE, "volts that change without changing the light",
         "Between these volts the measured light stays the same. The compiler uses the lowest of"
         " them; the others do not help to set the light."),
    Code("PHO313", "measured-ends", _ERROR, "a measured response that does not reach from floor to full",
         "The first point must be the floor (its volts and light), and the last one `full_volts` with"
         " 100 % light: all light is relative to full."),
    Code("PHO314", "bad-calibration", _ERROR, "a calibration that can't be used",
         "The larger of the two codes must give the larger voltage, and the line through both must"
         " reach the floor of the ballast within the codes of the converter."),
    Code("PHO315", "step-does-not-divide", _ERROR, "a step that does not divide its range",
         "The time step must divide 24 hours into whole steps, the level step must divide the full"
         " range, and the seconds between two changes of the output must divide the time step."),
    Code("PHO316", "no-light-planned", _ERROR, "a channel without a day or moonlight",
         "Give the channel a `day` or a `moonlight`, or remove it. To keep it dark on purpose, write a"
         " `day` with points of 0 %."),
    Code("PHO317", "zone-unlit", _ERROR, "a zone that no channel lights",
         "A zone gets its light from channels whose `full_ppfd` names it. No channel names this zone,"
         " so its dose would be 0, which is wrong."),
    Code("PHO318", "unused", _WARNING, "something that nothing uses",
         "A ballast or tube that no channel names has no effect. `sky` and `dated_tables` have no effect if"
         " no channel follows the sun or the moon."),
    Code("PHO319", "band-reversed", _ERROR, "a band whose lower end is above its upper end",
         "Write the smaller number first. The other way round no dose could ever be inside, and every day"
         " would be a warning that says nothing about the animals."),
    Code("PHO320", "burn-in-never-dark", _ERROR, "burn-in on a ballast that can't be dark",
         "While a tube burns in it must be dark or full. On a ballast that is never dark it would burn"
         " dimmed all night. Burn it in elsewhere and enter the hours as `lit_hours`."),
    Code("PHO321", "first-peak-start", _ERROR, "a first peak with a start, or a later one without",
         "The first peak begins where dawn ends, so it has no `from` and no `minutes`. Each further"
         " peak needs both: when its ramp begins and how long it takes."),
    Code("PHO322", "level-below-grid", _ERROR, "a relay level that the controller can't emit",
         "`on_level_percent` must be at least one level step, or the relay would never open. It must"
         " not be above the floor volts of the ballast, or the lamp could never hold its floor."),
    Code("PHO323", "off-the-grid", _NOTE, "a time that is not on the controller's grid",
         "The controller holds times in steps. The plan keeps the time that you wrote. The table has"
         " the nearest step, and the difference counts in the error of light."),
    Code("PHO324", "default-used", _NOTE, "a default that matters",
         "This is not in the file, and the value that the compiler uses instead changes the table or a"
         " check. Write it into the file when you know it for your hardware."),
    Code("PHO325", "uncounted-light", _WARNING, "a channel whose light is counted in no zone",
         "Zones have targets, but this channel has no `full_ppfd`, so the doses of all zones are"
         " without its light. Measure at each zone, with this channel alone, at full."),
    Code("PHO326", "crosses-midnight", _ERROR, "a day that ends before it starts",
         "It ends at an earlier time of day than it starts. Usually the two times are swapped: the animals"
         " would get light at night. If the day goes on past midnight, write `ends_next_day: true`; it"
         " belongs to the date of its first light."),
    Code("PHO327", "burn-in-outlives-tube", _ERROR, "a burn-in longer than the tube's life",
         "The hours at full that the tube owes do not fit into the hours before `replace_after_hours`."
         " About twelve hours are usual (NEMA LSD 23-2010); a tube that has burned for long owes none."),
    Code("PHO328", "depreciation-not-falling", _ERROR, "points of depreciation that do not fall",
         "The hours of the points must rise, and after its first hundred hours a tube gives less and"
         " less light. Between two points the light follows a straight line."),
    Code("PHO329", "no-place", _ERROR, "a sky or a time zone without a place",
         "Times and light that follow the sky, and clocks that differ, need `place` with latitude, longitude"
         " and time zone. A degree north or south moves a sunset by minutes, so no place is taken for"
         " granted. Fixed times on one clock need none."),
    Code("PHO330", "dated-tables-two-ways", _ERROR, "two ways to ask for tables together",
         "`dated_tables` takes either the errors that no table may exceed, or the number of tables: with"
         " both, one of them would be silently broken. And it asks either for all channels alike, or for the"
         " sun and the moon apart, under `sun` and `moon`."),
    Code("PHO331", "nothing-to-spread", _ERROR, "a clock change to spread, but no clock changes",
         "`clock_change_minutes_per_day` is for a plan in civil time, whose clock jumps by an hour twice a"
         " year. Standard time and UTC never jump, so animals feel nothing there. Take the key out, or write"
         " `plan_clock: civil`."),
    Code("PHO332", "ramp-length", _ERROR, "a dawn or dusk without a length, or with two",
         "A dawn has a start, and either `minutes` or an `end`; a dusk has an end, and either `minutes` or a"
         " `start`. With both, the two could say different things after the next change, and the animals"
         " would get the one that you did not mean."),
    Code("PHO333", "noon-far-off", _WARNING, "a longitude that does not fit its time zone",
         "At this longitude the sun is highest hours before or after 12:00 by the clock of the time"
         " zone. The usual reason is a wrong sign: east is positive, west is negative."),
    Code("PHO334", "zone-left-out", _WARNING, "a zone that a channel's `full_ppfd` leaves out",
         "What the channel gives there is not known, so the dose of the zone is without it, and no limit of"
         " the zone can be shown to be kept. Measure there too, with this channel alone, at full. Write 0 if"
         " none of its light falls into the zone."),
    Code("PHO335", "unit-in-doubt", _WARNING, "a value that looks as if another unit was meant",
         "A ramp of less than ten minutes that is no whole number of them looks like hours. A day whose"
         " peak is at most 1 % of full, or a floor below 0.1 %, looks like a share of full instead of a"
         " percentage (0.1 % is the least level of the curve of IEC 62386-102). If it is meant, write the"
         " ramp in whole minutes; a moon is planned by `moonlight`."),
    Code("PHO336", "watts-disagree", _WARNING, "tubes and ballasts of a channel whose watts do not fit",
         "The watts of the tubes together and the watts of the ballasts at full differ by more than a third."
         " `ballast_count` may be missing or wrong, or a tube is not listed. The current that the port must"
         " sink, the energy, and the dose while one tube is new hang on these numbers."),
    Code("PHO337", "place-taken", _ERROR, "two tubes in one place at one time",
         "Tubes of a channel with the same `place` follow each other: each is fitted after the one before,"
         " and leaves at the latest when the next is fitted. Give each but the first a `fitted`."),
    Code("PHO338", "place-left-empty", _ERROR, "a place that is left empty",
         "A ballast without one of its tubes may not drive the others, and the light of such a channel can't"
         " be reckoned. Declare the tube that follows, or measure the channel anew without the place."),
    Code("PHO339", "tables-not-apart", _ERROR, "a sun and a moon that can't be asked apart",
         "Where all channels share one column of times (`shared_times`), a row for the moon moves the rows of"
         " all other channels. Tables for the sun and the moon apart need channels with times of their own."),
    # 4xx: checks on the compiled days
    Code("PHO401", "volts-out-of-reach", _ERROR, "volts or light that the port can't give",
         "The output port gives at most 10.0 V, or the `most_volts` declared for it. A plan that"
         " needs more light than those volts give can't be carried out, and a table never holds"
         " volts above them. Lower the plan, or use an output that gives more volts.", is_hard=True),
    Code("PHO402", "ppfd-above-most", _ERROR, "more light than a zone may get",
         "At some second of the day the channels together give a zone more than its `ppfd_max`."
         " Animals bleach and die of that. Lower the peaks. Raise the limit only if you know that"
         " the animals can live with it.", is_hard=True),
    Code("PHO403", "night-not-dark", _ERROR, "a night that can't be dark",
         "The plan has dark hours, but this ballast holds its floor as long as it has mains. Corals"
         " need a dark period. Put a relay into the mains of the ballast, or accept it by name.",
         is_hard=True),
    Code("PHO404", "more-than-controller-holds", _ERROR, "more than the controller holds",
         "The plan has more channels than the controller, or its dark and lit hours need more rows; or"
         " with the rows of the controller the light would be wrong by more than half the peak of a"
         " channel. The message says how many.", is_hard=True),
    Code("PHO405", "dose-outside-band", _WARNING, "a daily dose outside the zone's band",
         "DLI is the dose of a day: PPFD summed over all its seconds, by the finished table. Too much of it"
         " bleaches corals although no moment is too bright; with too little they starve slowly. Dose changes"
         " with the peak and with the hours: 10 % less peak light is about 10 % less dose. Raise it in small"
         " steps over weeks (common practice, no source). If the animals are well, the band may be wrong: it"
         " is your statement, not a law."),
    Code("PHO406", "dimmed-during-burn-in", _WARNING, "a new tube that is dimmed before its burn-in is paid",
         "New tubes should run undimmed at first, so that mercury and impurities settle. NEMA"
         " LSD 23-2010 recommends about twelve hours at full where lamps are unstable, and states"
         " that seasoning is not needed for rated life; the data sheet of the tube decides."
         " Until the hours are paid the channel should be dark or full. Full light for a whole day"
         " can bleach the animals: shorten the day, raise the lamps or shade the tank,"
         " or burn the tubes in elsewhere and enter `lit_hours`."),
    Code("PHO407", "rises-too-fast", _WARNING, "light that rises faster than the zone allows",
         "At sudden light fish bolt, and corals have no time to protect themselves (common practice, no"
         " source). `ppfd_rise_per_minute_max` of the zone says how fast light may rise, and all channels"
         " count together: those that begin one after the other are gentler than a single steep one. With few"
         " rows a ramp has corners: more rows, or a straight ramp, make it even. A channel that burns in"
         " comes from dark to full at once, since a new tube should not be dimmed."),
    Code("PHO408", "night-too-short", _WARNING, "a night that is too short or not dark enough",
         "The zone's longest run below 0.15 µmol m⁻² s⁻¹ is shorter than its `dark_hours_min`"
         " (8 h if it is not stated: common practice, no source). In a trial, light of about"
         " 0.15 µmol m⁻² s⁻¹ at night harmed symbionts measurably within a month (PMC8256845)."),
    Code("PHO409", "floor-costs-dose", _WARNING, "a dose that the floor of the ballast changes",
         "The ballast can't give light below its floor: such light becomes dark or floor, as `below_floor`"
         " says. For this channel that changes the dose of the day by more than 2 %. Mostly a long faint"
         " dawn, or a moon on a ballast for tubes, is the reason: light that you planned never comes, or"
         " burns far brighter than planned. Give faint light to a channel that dims farther down."),
    Code("PHO410", "table-strays", _WARNING, "a table that is far from the plan",
         "At some second the light of the table differs from the reachable plan by more than 5 % of full, or"
         " a third of the peak of a dim channel, even if it may come half a time step earlier or later. The"
         " table is still the best that these rows allow. A dim light may lie between two levels of the"
         " controller, and then be half or double of what was written: plan what one of them gives. Curved"
         " ramps need more rows than straight ones, and each further peak needs two; a controller that takes"
         " an exported table often holds more than one that is typed in."),
    Code("PHO411", "many-starts", _WARNING, "tubes that start more than twice a day",
         "Each start wears the cathodes of a tube. Its rated life assumes about eight starts a day;"
         " with fewer starts it lives longer (LRC Lighting Answers 6(1), 2002)."),
    Code("PHO412", "port-overloaded", _WARNING, "more control current than the port can sink",
         "Each ballast sources up to 2 mA into the control pair (IEC 60929 Annex E, as quoted in"
         " trade articles). If the port can't sink the sum, the voltage rises, and so does the light."),
    Code("PHO413", "undefined-band", _WARNING, "time between standby volts and floor volts",
         "Between its standby volts and its floor volts the light of a ballast is not defined: it may"
         " flicker, or burn with cold cathodes, which wears tubes. The table is in that band for longer than"
         " two time steps a day. No row stands there, but a controller that draws lines passes through it."
         " `between: hold` and our own player jump over it."),
    Code("PHO414", "tube-overdue", _WARNING, "a tube that is overdue",
         "An old tube gives less light than was measured, and of another colour, so doses on paper are"
         " higher than those in the tank. It counts by `replace_after_hours` and by `replace_after_months`."
         " All tubes on one day take the fewest loads, but the light of all jumps at once; a channel a week"
         " takes more loads, and the light rises less at a time. Keep the old tube in the file with its"
         " `place`: then the compiler knows how much brighter the new one is. If a meter says that it is"
         " still good, raise the limit. A replacement that stands in the file within 14 days (our choice)"
         " after the tube is due, or after the first date, is planned, and no finding."),
    Code("PHO415", "acceptance-unused", _WARNING, "an acceptance that matches no finding",
         "The schedule accepts a finding that does not occur. Remove the line, so that it does not"
         " hide the finding if it comes back."),
    Code("PHO416", "rounding-matters", _WARNING, "light that depends on how the controller rounds",
         "The file does not say how the controller rounds levels between rows. With another usual way than"
         " the one assumed the light would differ by more than 2 % of full. To find out, let it go slowly"
         " between two rows that are one step apart, with a meter at its output: it changes half way"
         " (half-up), at the end (down, while it rises), or always late (toward-last-row)."),
    Code("PHO417", "short-dark-gap", _WARNING, "a short dark gap between two lit stretches",
         "A lamp goes dark for less than a quarter of an hour and lights again. That is rarely wanted."
         " Often a dusk ends at the minute at which moonlight begins, and the row that switches off"
         " leaves a gap. Let the two overlap; the brighter one counts."),
    Code("PHO418", "table-changes-dose", _WARNING, "a table that changes the dose",
         "In a day the finished table gives over 5 % more or less light than the reachable plan. A coarse"
         " time step can do that: light may come half a step earlier or later without an error at any moment,"
         " but on a dawn and a dusk it adds up, day after day. The doses of zones already count it; if they"
         " are inside their bands, nothing is lost."),
    Code("PHO419", "burn-in-waits", _WARNING, "a burn-in that waits for the animals",
         "New tubes should run undimmed, but with a day at full a zone would be over its `ppfd_max` or"
         " outside its band of dose. Full light can even mean a lower dose: where a channel at full reaches"
         " the limit, the others must give way for all those hours. So the channel waits: dark, or dimmed by"
         " the plan. Animals come before tubes. The message says what would let it go. Shade the zone or"
         " raise the lamps; or burn the tubes in elsewhere and enter `lit_hours` and `burn_in_full_hours: 0`;"
         " or plan other channels so that they need not give way."),
    Code("PHO420", "peak-jumps", _WARNING, "a peak that rises from one day to the next",
         "From one date to the next the greatest PPFD of a zone rises by more than its"
         " `peak_rise_percent_max`. New tubes at full are the usual cause: shade the zone for those"
         " days, raise the lamps, or burn the tubes in elsewhere and enter `lit_hours`. A plan that gives"
         " more light than the one before is another: raise it in steps. Two files are held against each"
         " other only if both are compiled with the same `--ledger`, which keeps the last peaks. If PPFD was"
         " measured anew since then and the reading fell, it *may* rise: were the sensor dirty or elsewhere,"
         " and not the tubes fainter, a level raised to make up for it would give more light than before."),
    Code("PHO421", "burn-in-from-dark", _WARNING, "full light that begins or ends in the dark",
         "A channel at full is the first to light or the last to go dark, because no dimmable channel"
         " lights the same zones before and after it. Shade the zone for those days, or let another"
         " channel begin earlier and end later."),
    Code("PHO422", "lit-at-change", _WARNING, "a table that changes while a channel is lit",
         "Dated tables follow each other at midnight. The light of a channel that is lit then changes"
         " from one table to the next within a second. Plan it dark at midnight on the clock of the"
         " controller, or live with the jump."),
    Code("PHO423", "bright-moonlight", _WARNING, "moonlight that is bright enough to do harm",
         "In a trial, 0.15 µmol m⁻² s⁻¹ at night harmed symbionts of corals measurably within a month"
         " (PMC8256845). Natural moonlight is under 0.006. The least light that a channel can hold is"
         " often far more than a moon."),
    Code("PHO424", "moon-seldom-shown", _NOTE, "a moon that the channel can't show on some nights",
         "A half moon gives 9 % of the light of a full one. If the full moon is only a few times the"
         " floor of the ballast, the channel is dark on most nights of the month. A table for several"
         " dates may also show a moon on nights that have none."),
    Code("PHO425", "clock-set-back-lit", _WARNING, "light that changes while a clock is set back",
         "When a clock is set back, the same times come twice, and a table gives the same light twice. If"
         " the plan wants other light the first time, the light is wrong then, once a year. A moon or a night"
         " that is lit at that hour is the usual case. Standard time has no such hour."),
    Code("PHO426", "season-strays", _WARNING, "a table for many dates that is wrong for some",
         "A table that stands for many dates is not exact for all of them: days grow by minutes, and a moon"
         " changes every night. `dated_tables` limits the error; but if it gives a number of tables instead,"
         " the error may be large. Animals that breed by the moon or the season need the finer one."),
    Code("PHO427", "safe-state-too-bright", _ERROR, "a safe state with more light than a zone may get",
         "Our own player gives `safe_light_percent` day and night when it is stopped by hand, or has no"
         " clock that it can trust. That may last for days, so it must keep the `ppfd_max` of a zone.",
         is_hard=True),
    Code("PHO428", "trimmed-to-limit", _NOTE, "a table that gives less than its plan, to keep a limit",
         "The plan is at the `ppfd_max` of a zone, or above it, and the table that would be nearest to the"
         " plan may be above. The table stays below, so that the zone gets less light than planned. The limit"
         " is kept at every second; the shape of the peak pays for it. To keep the shape, plan the peak a few"
         " percent lower yourself."),
    Code("PHO429", "welded-relay", _WARNING, "a relay that would light the lamp at night if it welded",
         "A controller that draws lines rises from the row that switches off to the next lit row: all"
         " night, behind an open relay. If the contact is welded, the lamp gives that light in planned"
         " darkness. A row of level 0 one time step before the lamp lights prevents it; here the"
         " controller has no row for that. Our own players put out level 0 while a relay is open, so"
         " they need no such row."),
    Code("PHO430", "limit-not-shown", _ERROR, "a limit of light that is not shown to be kept",
         "New tubes are brighter than those that stood there when PPFD was measured, by what those had lost."
         " The schedule declares neither the old tubes with their loss, nor what a tube has lost when it is"
         " replaced, so the zone may get more than its `ppfd_max`. Measure again, or declare the old tubes."
         " Lamps that were measured cold give more when warm, so such a reading shows no limit either."
         " Accept it by name only if a meter shows that the limit is kept.", is_hard=True),
    Code("PHO431", "measured-tubes-not-told", _WARNING, "PPFD measured with tubes that are not declared",
         "Light at full is compared with that on `measured_on`. A tube that was fitted later was not there,"
         " and the schedule does not say which one was. If `depreciation` and `replace_after_hours` are"
         " declared, it is taken as worn out: new tubes then count as brighter, not as darker. If the tube"
         " that stood there is declared, its `depreciation` is needed, too."),
    Code("PHO432", "many-loads", _WARNING, "more tables than are loaded with ease",
         "Each table must be in the controller before its first date. A load that is late leaves the old"
         " table at work: a lamp that burns in goes on at full, a day that should be shorter stays long. Here"
         " a person would have to load more than once, or to type in more than four tables in a month (our"
         " choice). Tables become fewer if they may be further off, or if the sun and the moon are asked"
         " apart; nobody types if the controller reads a file (`loaded_by: file`) or if a board of your own"
         " plays the tables."),
    # 8xx: days of a date, which can't be built
    Code("PHO801", "no-such-event", _ERROR, "an event of the sky that does not happen on a date",
         "Near the poles the sun does not rise or set on some dates, and twilight may last all night."
         " The compiler does not guess the day then: give the time `if_none`, or `if_sun_stays_up` and"
         " `if_sun_stays_down`."),
    Code("PHO802", "sky-not-known", _ERROR, "a date outside the model of sun and moon",
         "The positions of sun and moon are good for the years named in the message. Farther away the"
         " turning of the earth is not known well enough to tell the time of a sunset. Mostly the year is a"
         " slip of the pen."),
    # 7xx: board files
    Code("PHO701", "no-output", _ERROR, "a channel of the table without an output",
         "The table has a channel for which the board file has no output. Its lamps would stay as they are,"
         " day and night: at full, if nothing holds their control pair. Give the channel an entry under"
         " `channels` of the board file; `output: {kind: stdout}` is enough for a try without a device."),
    Code("PHO702", "no-such-channel", _ERROR, "a channel that the table does not have",
         "The board file gives outputs to a channel that is not in the table. Nothing would ever set these"
         " outputs, and an output that is never set can mean full light. Mostly the channel was renamed in"
         " the schedule: use the same id in both, or take the entry out."),
    Code("PHO703", "output-twice", _ERROR, "an output or relay that two channels use",
         "Each channel needs its own output and its own relay: two channels on one output would work against"
         " each other, and the lamp would follow whoever wrote last. Mostly a line was copied and its number"
         " not changed."),
    Code("PHO704", "no-broker", _ERROR, "an MQTT output or relay without a broker",
         "A player can't send a level without knowing where to. Write `broker: {host: …, topic: …}` at the"
         " top of the board file. What listens there must switch its relay itself, and must go dark if no"
         " message comes."),
    Code("PHO705", "no-relay", _WARNING, "a channel that is dark by its relay, and has none",
         "The table makes the channel dark by a relay, and the board file has none for it. At night"
         " the lamp burns at its floor, or, if its ballast has a standby, an output that fails open"
         " lights it at full. If another program takes the level from standard output or from"
         " a broker, it must switch the lamp."),
    Code("PHO706", "no-zone", _ERROR, "no time zone for the controller's clock",
         "Standard time and civil time depend on a time zone. The table names none, and the zone of the"
         " board is not taken for that of the tank: in a wrong one the whole day would be hours off. Write"
         " `time_zone:` in the board file."),
    Code("PHO707", "unknown-zone", _ERROR, "a time zone that is not known",
         "Zones are named as in the IANA data, such as Atlantic/Azores: a continent or an ocean, and a town"
         " or island. Abbreviations such as CET say nothing of summer time in other years, and may mean"
         " several zones."),
    Code("PHO708", "other-converter", _ERROR, "a table for another converter",
         "The board file says with `bits` or `full_scale_volts` which converter drives the channel, and the"
         " table was made for another one: its codes would give other volts, and a lamp far too much or too"
         " little light. A running player goes on with the last good table."),
    Code("PHO709", "contact-unclear", _ERROR, "a contact that is read from nowhere, or from two places",
         "A mirror contact tells whether the contactor in the lamp's mains is really open. It is wired to a"
         " GPIO line, which `line` names, or another program writes 0 or 1 into a file, which `file` names."
         " With none of them nothing is measured, and with both nobody knows which one to believe."),
    # 5xx: the outside world
    Code("PHO501", "cannot-read", _ERROR, "a file that can't be read",
         "The file is missing, is a folder, or may not be read. Names are those of the folder in which you"
         " run the command; a name with spaces needs quotes. Nothing was written. Exit code 4."),
    Code("PHO502", "cannot-write", _ERROR, "a target that can't be written",
         "The disk is full, the place may not be written, or it is not a folder. Nothing that stood"
         " there before was changed. Exit code 4."),
    Code("PHO503", "not-ours", _ERROR, "a folder that holds other files",
         "`compile` replaces its output folder as a whole, so it only replaces a folder that it wrote"
         " itself. Choose another folder, or move the files it names. Exit code 4."),
    Code("PHO504", "ledger-refused", _ERROR, "a ledger that can't be used",
         "The file is not a ledger, or it is broken, or it belongs to another tank, or it does not"
         " reach the first of the dates. Nothing was changed. Without --ledger the hours of a tube are"
         " counted from its fitting on. Exit code 4."),
    Code("PHO505", "table-refused", _ERROR, "a file that can't be used as a table",
         "The file is not an export of this program, or it is of another version, or its checksum is"
         " wrong because it was cut off, edited or damaged. Nothing of it was used: a player goes on"
         " with the last good table. Exit code 4."),
    Code("PHO506", "board-unfit", _ERROR, "a table and a board file that do not fit each other",
         "The table and the board file have different channels; or the table needs a time zone that"
         " neither names, or that this machine does not know. A player goes on with the last good"
         " table; one that never had a table opens the relays and ends. Exit code 4."),
    Code("PHO507", "device-refused", _ERROR, "a device that is not what the board file says",
         "The device that the kernel reports does not fit the converter of the table: exit code 4. A"
         " file in sysfs that is missing, or that may not be written, is an alarm: the player tries"
         " again every few seconds, and the other channels go on."),
    Code("PHO508", "broker-refused", _ERROR, "a broker, or GPIO lines, that can't be used",
         "The library for MQTT (extra `mqtt`) or for GPIO lines (extra `board`) is not installed: `pip"
         " install '.[board,mqtt]'` in the checkout, or `'photoperiod[board,mqtt]'` if the program was"
         " installed by that name. Or the password or certificates can't be read, or `publish` could not"
         " send a table. Exit code 4. For a player, a broker that does not answer is only an alarm: it goes"
         " on and tries again."),
    Code("PHO509", "player-runs", _ERROR, "another player that uses the same state folder",
         "Two players would work against each other on the same outputs. Stop the other one first; its"
         " process number stands in the file `lock` of the state folder. Exit code 4."),
    Code("PHO511", "log-refused", _ERROR, "a file that can't be read as a log",
         "A log is CSV with a column `time` and, for each channel, volts, levels, light or codes; or"
         " the PPFD of a zone. Its names, its units and the time zone of its times must be clear:"
         " compared with wrong ones, a table would look wrong all day. Exit code 4."),
    Code("PHO512", "device-differs", _WARNING, "a device that holds something else than it was given",
         "A player reads its outputs and relays back at each step. One held a code or a relay state that"
         " the player had not given it: another program or a person set it, it was reset, or it is"
         " stuck. The log says what it held; it is given its value again, and the alarm stays for a"
         " minute after the last time. A level that has to rise for that rises softly."),
    Code("PHO513", "sense-differs", _WARNING, "a sensor that says something else than was put out",
         "A mirror contact, the volts at the control pair or a light sensor says for ten seconds or more"
         " that the lamp is not as the player put it out. A contact that is closed, or light, while the"
         " lamp should be dark: the contactor is welded, or somebody bypassed it. Unplug the lamp. Volts"
         " above what was put out: the pair is open, and the lamp burns at full. The files"
         " `sensed-….csv` in the log folder hold what was measured."),
    Code("PHO518", "process-killed", _ERROR, "a process that was killed at its work",
         "With several files each is worked on by a process of its own. One was ended from outside, and again"
         " when its file was tried alone: mostly by the system, because memory ran out. The other files"
         " are not touched by this. Try `--jobs 1`, or fewer dates. Exit code 4."),
    # 6xx: logs held against a table
    Code("PHO601", "light-off", _WARNING, "light that is not what the table gives",
         "While the table is lit, the log has more or less light than it, even with the tolerance in"
         " time, and by more than noise: readings of a meter for two minutes or more in all, or in the"
         " median of ten minutes or more; records of a player each count. A steady difference points"
         " to the converter, the wire or the ballast; a difference at steps points to the player. Dim"
         " light may be off by half of itself."),
    Code("PHO602", "dose-off", _WARNING, "a dose that is not what the table gives",
         "Over the time that the log covers, the channel or zone got more or less than the table"
         " gives in the same time. Measured PPFD also falls because tubes fade."),
    Code("PHO603", "log-gap", _WARNING, "a time without records",
         "Doses are compared over the time that the log covers. What happened in a gap is not known."
         " A log that is not of whole days, such as one that ends at noon, has a gap at its end;"
         " `--part-of-day` says that you mean it."),
    Code("PHO604", "clock-off", _WARNING, "a clock that is ahead or behind",
         "The log fits the table far better if it is shifted in time: the controller's clock is off,"
         " or that of the log the other way. Whole hours come from summer time or a wrong time zone."
         " The other findings are about the log after this shift."),
    Code("PHO605", "beyond-dates", _NOTE, "a log that reaches beyond the dates of the table",
         "Outside its dates a player goes on with the first or last table, and so does this comparison. The"
         " plan may have wanted other light on those dates: compile them, and load the new table, before you"
         " judge the animals' light by it."),
    Code("PHO606", "output-stuck", _WARNING, "an output that stays still while the table moves",
         "For an hour or more the output did not change although the table does: a loose wire, a"
         " converter that hangs, a player that stopped, or a hold."),
    Code("PHO607", "relay-missed", _WARNING, "a relay that is not in the state of the table",
         "A relay that stays closed leaves the lamp at its floor all night; a welded contact does so"
         " too. Each record counts."),
    Code("PHO608", "not-in-both", _WARNING, "a channel or zone that only the log or only the table has",
         "It could not be compared. If the log is about some channels only, name them with --channel."
         " A channel or zone that only the log has is a note."),
    Code("PHO609", "player-event", _NOTE, "an event that the player wrote into its log",
         "Starts, stops, holds, clock steps and the like, as `photoperiod run` logs them. They often explain"
         " another finding at the same time: after a start light rises softly, and in the safe state it is"
         " that of `safe_light_percent`."),
    Code("PHO610", "bad-records", _NOTE, "records of the log that could not be read",
         "A record that was cut off by a power failure, for example. The rest was used. Many of them point"
         " at a full disk, or at a logger that writes numbers in another form."),
    Code("PHO611", "clock-drifts", _WARNING, "a clock that gains or loses",
         "From date to date the log fits the table with another shift. A clock without a battery, or"
         " with a cheap crystal, does that. Set it from a time server or a better clock."),
    Code("PHO612", "beyond-reach", _WARNING, "more than the controller can give",
         "If the control pair is open, by a broken wire or a loose clamp, the volts are those of the"
         " ballast itself, and the lamp burns at full. Or the column holds another quantity."),
    Code("PHO613", "strange-column", _NOTE, "a column of the log with an unknown name",
         "It looks like the column of a channel or zone, under another name. Name it with --column, or its"
         " light was not compared: silence about it says nothing."),
    Code("PHO614", "nothing-compared", _WARNING, "a log that could not be compared at all",
         "In no channel or zone are there two records that are near enough to each other in time."),
    Code("PHO615", "light-in-darkness", _WARNING, "light where the table is dark",
         "A lamp burns while its table has it dark: a relay that stays closed, a welded contact, a"
         " lamp that somebody switched on, or light from elsewhere on the meter. A zone is dark below"
         " 0.15 µmol m⁻² s⁻¹ (`--dark-below-ppfd`), a channel below 0.1 % of full. Records of a player"
         " each count; readings of a meter do so for two minutes or more in all, or in the median of"
         " ten minutes or more."),
    Code("PHO616", "noisy-readings", _WARNING, "readings that scatter too much to tell",
         "From one reading to the next the light jumps by more than noise of a meter: a loose"
         " contact, a lamp that flickers, or a meter that does not fit. Whether the light is that of"
         " the table can't be told."),
    Code("PHO617", "time-in-doubt", _NOTE, "a time of the log that comes twice",
         "When a clock is set back, an hour comes twice. Where records do not repeat that hour, the"
         " log does not tell which of the two is meant. Let the logger write times with their offset"
         " from UTC."),
    Code("PHO618", "columns-disagree", _WARNING, "columns of the log that contradict each other",
         "Count, code, volts, level and light of a record belong together by the light path of the table."
         " Here they don't, by more than rounding or the noise of a meter: the output may not have followed"
         " the player, the converter may have other volts than the schedule says, or a column holds something"
         " else. Only the most certain of them was compared with the table, so find out which one is true."),
    Code("PHO619", "column-blank", _NOTE, "records where a less certain column was compared",
         "Where the cell of the most certain quantity of a channel is blank, the next one that is there was"
         " compared with the table, so that no light is missed. Look for why it is blank: a player or a"
         " converter that was out for that time may be the cause."),
    Code("PHO620", "volts-behind-open-relay", _NOTE, "volts stand at a pair while its relay is open",
         "The lamp is dark by its relay alone. If that sticks, the lamp burns as these volts have it. All our"
         " players put out level 0 there: look for what else sets the pair, or rises to the next row."),
    *DOSE_CODES,
    *PAGE_CODES,
    *CHANGE_CODES,
    *MANY_CODES,
    *READINGS_CODES,
    *UPKEEP_CODES,
)  # fmt: skip

CODES: dict[str, Code] = {entry.code: entry for entry in _ALL}
BY_NAME: dict[str, Code] = {entry.name: entry for entry in _ALL}
HARD_NAMES: tuple[str, ...] = tuple(entry.name for entry in _ALL if entry.is_hard)
