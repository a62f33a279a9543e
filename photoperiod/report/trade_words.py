"""Words of the glossary that a keeper meets: those of the trade, of readings, of light and level."""

from __future__ import annotations

from photoperiod.report.glossary_form import Section, Word

TRADE_WORDS: tuple[Section, ...] = (
    Section("Words of the trade", (
        Word(("PPFD",),
             "photosynthetic photon flux density: light for plants and corals that falls on a place at a"
             " moment [µmol m⁻² s⁻¹]",
             "Reef keepers call it PAR. It counts photons from 400 to 700 nm, whatever their colour. A"
             " lux meter weighs light by the human eye and says little of it. Light adds up: 130 from one"
             " channel and 120 from another are 250 µmol m⁻² s⁻¹.",
             also=("PAR",)),
        Word(("DLI",),
             "daily light integral: the sum of PPFD over one day [mol m⁻² d⁻¹]",
             "PPFD in µmol m⁻² s⁻¹, times seconds, divided by a million: 200 µmol m⁻² s⁻¹ for 10 hours"
             " are 200 × 36,000 / 1,000,000 = 7.2 mol m⁻² d⁻¹. It is the dose of the day: a short bright"
             " day and a long dim one can have the same DLI. Equal DLI is not equal photosynthesis: see"
             " Ek.",
             also=("daily light integral",)),
        Word(("dose",),
             "the light of one day: DLI of a zone, full-light hours of a channel",
             "Animals answer to the whole day, not to its brightest moment alone. A dose outside the band"
             " of a zone is a warning; light above its `ppfd_max` stops the table."),
        Word(("full-light hours",),
             "hours at full that would give the same light as the day",
             "They need no meter. 80 % light for 11 hours are 8.8 full-light hours. Where a channel at"
             " full gives 130 µmol m⁻² s⁻¹, these are 8.8 × 130 × 0.0036 = 4.12 mol m⁻² d⁻¹."),
        Word(("photoperiod",),
             "how long a channel or zone is lit in a day: all such time together",
             "A channel is lit while it gives any light, however faint. A zone is lit while it gets at least"
             " 0.15 µmol m⁻² s⁻¹; what is below that is night, so a faint moon is no photoperiod of a zone."
             " Dark hours between two stretches of light do not count. Corals and fish need the night as much"
             " as the day."),
        Word(("night",),
             "the longest time at a stretch in which a zone gets less than 0.15 µmol m⁻² s⁻¹",
             "It may run past midnight. From that light on, symbionts of corals were harmed within a month"
             " (PMC8256845). Moonlight below it is night, brighter moonlight is not. A zone needs as many"
             " hours of night as its `dark_hours_min` says; a shorter one is a warning (night-too-short)."),
        Word(("Ek",),
             "light at which photosynthesis of the animals begins to saturate [µmol m⁻² s⁻¹]",
             "At Ek photosynthesis runs at tanh 1 = 76 % of its most; twice the light adds a quarter more"
             " (Jassby & Platt 1976). So light far above Ek feeds little and can harm. If a zone has"
             " `ek_ppfd`, the summary says how much of its light counts in that way, how long it is at Ek or"
             " above, and when the *useful day* begins and ends: photosynthesis has at least half of its most"
             " then (our choice), at 0.55 of Ek.", also=("useful day",)),
        Word(("spectrum",),
             "how the power of a light is spread over its wavelengths",
             "If channels have a `spectrum`, the summary says which shares of a zone's photons are at"
             " 400-500, 500-600 and 600-700 nm: equal doses can have other colours. An *action spectrum*"
             " tells how much one photon of each wavelength is worth to photosynthesis; the *usable share*"
             " is what the photons of a zone are worth by it in the mean. It differs by animal and depth,"
             " so a schedule brings one with its source, or has none.",
             also=("action spectrum", "usable share")),
        Word(("ballast",),
             "the device that drives the tubes and dims them by a control voltage of 0 to 10 V",
             "A dimmable one sends a small current into its control pair, and reads the volts on it. An"
             " open pair means full light, so a broken wire lights the lamp at full. The pair has basic"
             " insulation only: treat it like mains. LED drivers with a 0-10 V input are called ballasts"
             " here, too.",
             also=("driver",)),
        Word(("floor",),
             "the least light that a ballast can hold, and the volts at and below which it holds it",
             "Below these volts the light stays the same: a ballast of 1 % at 1.0 V gives 1 % at 0 V,"
             " too. Dark needs a relay or a standby. Light planned below the floor becomes dark or floor,"
             " as `below_floor` says. It stands in the data sheet, or lower the volts until the light no"
             " longer changes.",
             also=("minimum",)),
        Word(("standby",),
             "a ballast that goes dark by itself below some volts",
             "Between its standby volts and its floor volts the light is not known. If its output fails"
             " open it burns at full, so its relay opens in the dark, too, unless `keeps_mains` says"
             " otherwise."),
        Word(("tube",),
             "one fluorescent lamp; a channel has one or several",
             "Tubes of one channel may differ in age and watts. Each has its own hours in the file or the"
             " ledger. A tube holds mercury; unplug before relamping.",
             also=("lamp",)),
        Word(("burn-in",),
             "hours at full that a new tube needs before it is dimmed",
             "NEMA LSD 23-2010 recommends about 12 hours at full if lamps are unstable, and says that"
             " rated life does not need it; the data sheet of the tubes decides. Full light for a whole"
             " day can bleach animals, so `compile` makes such a day shorter, and the dose stays. Or burn"
             " the tubes in elsewhere and enter `lit_hours`. Only hours at full count.",
             also=("seasoning",)),
        Word(("acclimation",),
             "to let animals get used to more light, or to other light, over days or weeks",
             "Write `changes: [{kind: acclimation, from_date: 2027-04-01, over_days: 28,"
             " from_dose_percent: 60}]` and compile with dates: the doses of the finished tables rise in"
             " steps, up to the plan. Compile the next dates with the same `--ledger FILE`. Only the ledger"
             " lets `compile` hold the first date against the last of the run before (PHO420, PHO440):"
             " without it a peak that doubles between two files is not seen.",
             also=("acclimate", "acclimatisation", "acclimatization",)),
        Word(("depreciation",),
             "loss of light of a tube with the hours that it burned",
             "Makers declare the light at 100 hours. With a loss of 1.4 % in each 1000 hours, 88 % are"
             " left after 9000 hours. New tubes are that much brighter than old ones: raise light slowly"
             " after relamping, and measure.",
             also=("fading", "ageing",)),
        Word(("channel",),
             "what one output of the controller drives: ballasts of one kind, and their tubes",
             "All that hangs on it gets the same level, so tubes of one colour are usually one channel."
             " Give each channel `full_ppfd`: what it gives alone, at full, in each zone."),
        Word(("zone",),
             "a place in the tank where animals live",
             "The top of the rocks and the sand below get different light from the same lamps. Each zone"
             " has its own band of dose (`dli`) and its own limit (`ppfd_max`). Without zones nothing"
             " protects the animals."),
        Word(("converter",),
             "the DAC, or pulses with a filter, that makes the control volts",
             "12 bits make 4096 codes: at 10 V full scale one code is 2.4 mV. With pulses the filter"
             " leaves a ripple. Two measured codes, with the ballasts connected, tell what it really"
             " gives.",
             also=("DAC", "PWM",)),
        Word(("sink",),
             "to take up the current that ballasts source into their control pair",
             "Each ballast sends up to 2 mA (IEC 60929 Annex E, as quoted in trade articles). If the port"
             " can't take up the sum, the volts rise, and so does the light. `port: {sink_milliamps: 20}`"
             " says what it can."),
        Word(("relay",),
             "the switch in the mains of the ballasts; it makes dark",
             "It must be open without power. It closes after the level is set, and opens before. A welded"
             " contact stays closed: so rows of level 0 stand where the lamp should be dark. Mains wiring"
             " is for a licensed person.",
             also=("contactor",)),
        Word(("dark",),
             "no light: by a relay, by a standby, or never",
             "A ballast that is never dark holds its floor all night. Corals need a dark night, so"
             " `compile` refuses such a table unless the schedule accepts it by name and says why."),
        Word(("full",),
             "the most light that a channel gives; light is told in percent of it",
             "It is the light of burned-in tubes at working temperature, at the top permitted code. Some"
             " ballasts reach it below 10 V: `full_volts`.",
             also=("full light",)),
        Word(("dawn", "dusk",),
             "the ramps at the begin and the end of a day, from dark to the peak and back",
             "Written as `start` and `minutes`, or with an event of the sky such as `sunrise + 30 min`."
             " Sudden light frightens fish (common practice, no source).",
             also=("ramp",)),
        Word(("peak",),
             "the light of a channel between two ramps; a day may have several",
             "`light_percent` is in percent of full. 10 % less peak light is about 10 % less dose."),
        Word(("moonlight",),
             "faint light at night: steady, or as bright as the moon is",
             "A half moon gives 9 % of a full one, not 50 %. Natural moonlight is under 0.006 µmol m⁻²"
             " s⁻¹; 0.15 at night did harm in a trial (PMC8256845).",
             also=("moon",)),
        Word(("response",),
             "how the light of a ballast follows its control volts, from floor to full",
             "`linear`, `square-law` (the root of light is even in volts), `log-law`, or measured point"
             " by point. With the wrong one noon may be right and dawn far off.",
             also=("square-law", "linear", "log-law",)),
    )),
    Section("Readings", (
        Word(("reading",),
             "what a meter told at one place, with what was lit and at which level",
             "`photoperiod measure` reads files of them."),
        Word(("map",),
             "what each channel alone gives at full, point by point in the tank",
             "It is made from readings; zones take their light from it."),
        Word(("extent",),
             "where a zone is in the tank: a box, or a list of points"),
        Word(("uniformity",),
             "the least light of a zone as a share of its mean",
             "U0 of EN 12464-1. At 0.5 the darkest place gets half of what the dose of the zone says."),
        Word(("spread",),
             "the most and the least light of a zone beside its mean: for limits, and for the lower end of"
             " `dli`"),
        Word(("immersion factor",),
             "what a sensor's reading under water is multiplied by to get the light that falls on it",
             "Its maker tells it. Forgotten, all doses are too low by it, and limits are passed unseen."),
        Word(("fall-off",),
             "how fast light falls with depth in this tank [1/m]",
             "Distance to the tubes and water together. Near tubes it is far more than the water takes."),
        Word(("attenuation",),
             "how fast the water alone takes light [1/m]",
             "It is told only where the size of the fixture is known, so that distance is divided out."),
        Word(("sweep",),
             "readings at one place at rising volts: they tell the curve of a ballast"),
        Word(("series",),
             "readings of one place over months: they tell how tubes fade"),
    )),
    Section("Light and level", (
        Word(("light",),
             "what a channel gives, as a fraction of its full light with burned-in tubes; `light_percent`"
             " in files",
             "Light is what animals get, level is what the wire has. On a square-law ballast 80 % light"
             " is 89 % level. Percentages in files always say which.",
             also=("light_percent",)),
        Word(("brightness",),
             "full light today beside full light when PPFD was measured; tubes lose some of it"),
        Word(("level",),
             "control volts as a fraction of 10 V; `level_percent` in files",
             "10 % is 1.0 V, whatever the ballast. On a square-law ballast with its floor at 1 V and 1 %,"
             " full at 10 V, a level of 89 % (8.9 V) gives 79 % light.",
             also=("level_percent",)),
        Word(("count",),
             "the level as a whole number of the controller's own steps"),
        Word(("converter code",),
             "the whole number that the converter gets; the *top permitted code* gives at most 10.0 V, or"
             " what the port can give"),
        Word(("light path",),
             "count → converter → wire → relay → ballast → light, as arrays that are looked up by count"),
        Word(("wanted light",),
             "what the plan asks for"),
        Word(("reachable plan",),
             "the wanted light after floor, darkness and full: what this ballast can do"),
        Word(("energy",),
             "what the ballasts of a channel take from the mains [kWh]",
             "Each kind of ballast says what one takes at full, at its floor and in the dark:"
             " `watts: {full: 120, floor: 26, dark: 0.5}`, from its data sheet or from a meter. Between"
             " floor and full it is a straight line in light. Without `watts` the energy of a channel is"
             " not known, and the summary says so.",
             also=("kWh", "watts", "power")),
        Word(("held light",),
             "light of a channel whose levels rise while its tubes fade (`hold_light`)",
             "Its dose stays within a tolerance of the plan's, with few loads, until the peak of the plan is"
             " at full; PHO450 names the date from which it can't be held.",
             also=("hold_light",)),
        Word(("policy of replacement",),
             "when tubes are replaced: all at once, by halves, by their hours, or by measured light",
             "`photoperiod tubes` compares what each does to the light of zones, to loads and to costs. A"
             " tube is *due* by its hours, its months, or its light where its fade was measured.",
             also=("policy", "due")),
        Word(("tariff",),
             "what power costs, at all hours alike or by the hour",
             "`costs: {currency: EUR, tariff: {kind: flat, per_kwh: 0.22}}`. With hours each second of a"
             " table is paid at the price of the contract's own clock, which is mostly civil time. Prices of"
             " tubes are in the same currency.",
             also=("costs", "currency", "price")),
        Word(("replay",),
             "the light that a finished table gives, second by second",
             "All doses and peaks are computed from it, after rounding and through converter, relay and"
             " ballast: not from the wish. `photoperiod replay` prints it for a moment or a day."),
        Word(("snapping",),
             "moving light that a ballast can't give to its floor or to dark"),
        Word(("undefined band",),
             "volts between standby and floor, where the light of a ballast is not known",
             "The lamp may flicker or burn with cold cathodes there. No row stands in it; a controller"
             " that draws lines passes through it each time it lights."),
        Word(("safe state",),
             "what outputs give without a clock to trust, or when a person has stopped the lamps",
             "It is dark, unless a channel says `safe_light_percent`. Without any table a player opens"
             " the relays."),
        Word(("soft start",),
             "a limit that rises from the floor, so that lamps come back slowly",
             "After a power cut at midday lamps would jump from dark to full. `soft_start_minutes` makes"
             " that a ramp; only our own players do it."),
    )),
)  # fmt: skip
