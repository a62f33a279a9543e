"""The questions of a first schedule, as plain data. Nothing about hardware has a default."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from photoperiod.schedule import answer_forms as forms
from photoperiod.schedule import answer_rules as rules
from photoperiod.schedule.answer_forms import LATER, Form, Value
from photoperiod.schedule.answer_rules import Answers


class Page(StrEnum):
    """The pages of the conversation, in their order, by their titles."""

    TANK = "the tank"
    CONTROLLER = "the controller"
    BALLASTS = "ballasts and drivers"
    CHANNELS = "channels and tubes"
    ZONES = "zones and readings"
    DAY = "the day and the night"


class Each(StrEnum):
    """What a question is asked for: once for the file, or for each of some things."""

    FILE = "file"
    BALLAST = "ballast"
    CHANNEL = "channel"
    ZONE = "zone"
    READING = "channel/zone"


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One thing that only the keeper can know.

    Parameters
    ----------
    name : str
        The name of the answer; with hyphens, that of the option.
    page : Page
        Where it stands.
    text : str
        The question. ``{subject}``, ``{channel}`` and ``{zone}`` stand for what it is about.
    help : str
        What ``?`` says: why it is asked, and where the answer can be found.
    form : Form
        What an answer looks like.
    each : Each
        What it is asked for.
    default : callable, optional
        Returns what an empty answer means, or None. It never assumes hardware.
    is_moot : callable, optional
        Returns True if other answers make the question meaningless.
    objection : callable, optional
        Returns why an answer can't stand beside the others, or an empty text.
    one_of : str
        The question whose answer lists the names to choose from; empty if there is none.
    """

    name: str
    page: Page
    text: str
    help: str
    form: Form
    each: Each = Each.FILE
    default: Callable[[Answers, str], Value | None] = lambda _answers, _subject: None
    is_moot: Callable[[Answers, str], bool] = lambda _answers, _subject: False
    objection: Callable[[Answers, str, Value], str] = lambda _answers, _subject, _value: ""
    one_of: str = ""

    @property
    def option(self) -> str:
        """The option that answers it."""
        return "--" + self.name.replace("_", "-")


def subjects(each: Each, answers: Answers) -> tuple[str, ...]:
    """Return what a question is asked for, as far as the answers name it."""
    match each:
        case Each.FILE:
            return ("",)
        case Each.BALLAST:
            return rules.names(answers, "ballasts")
        case Each.CHANNEL:
            return rules.names(answers, "channels")
        case Each.ZONE:
            return rules.names(answers, "zones")
        case Each.READING:
            return rules.readings(answers)


_YES_NO = forms.choice({"yes": ("y", "true"), "no": ("n", "false")})
_CLOCKS = {"standard": ("winter",), "civil": ("summer", "daylight saving"), "utc": ("gmt",)}

#: In the order in which they are asked. Those of one page that are asked for the same things stand
#: together: all of them are asked for the first, then all for the second.
QUESTIONS: tuple[Question, ...] = (
    Question(
        name="tank", page=Page.TANK, form=forms.id_("teaching-reef"),
        text="A short name for the tank",
        help="The hours of its tubes are kept under this name, so it must stay as it is. The title may"
        " change.",
    ),
    Question(
        name="title", page=Page.TANK,
        form=forms.or_word(forms.label("any text of up to 200 characters"), "none", ("no", "-")),
        text="A title for people", default=lambda _, __: "none",
        help="It stands above the summary and the typing sheet.",
    ),
    Question(
        name="place", page=Page.TANK, form=forms.or_word(forms.place(), "none", ("no", "-")),
        text="Where the tank stands, if its days or moon follow the sky", default=lambda _, __: "none",
        help="Latitude and longitude on the map, to a tenth of a degree. Only times such as"
        " `sunset + 30 min`, a moon by its phase, and a controller that keeps summer time need it. South"
        " and west are negative, or have an S or W. Fixed times by the clock need no place.",
    ),
    Question(
        name="time_zone", page=Page.TANK, form=forms.time_zone(), text="Time zone of that place",
        is_moot=lambda answers, _: rules.has_no_place(answers),
        help="As the IANA database names it: the continent or ocean, a slash, and a large town or island.",
    ),
    Question(
        name="rows", page=Page.CONTROLLER,
        form=forms.number("a whole number {bounds}", 1, 1440, forms.ROWS, is_whole=True),
        text="How many rows (time, level) the controller holds for one channel",
        help="Count the lines that you can type in, or that its program has room for. A row that"
        " switches off counts too. If channels have different numbers, take the smallest.",
    ),
    Question(
        name="time_step_minutes", page=Page.CONTROLLER,
        form=forms.minutes("minutes up to 720, such as 1 or 15; or seconds, such as 30 s", 1 / 60, 720),
        text="How many minutes apart the times of two rows are", objection=rules.time_step_divides,
        help="1 if a row can stand at any minute. A timer with quarters of an hour has 15.",
    ),
    Question(
        name="level_step", page=Page.CONTROLLER, form=forms.level_step(), objection=rules.level_step_divides,
        text="The smallest step of level, with its unit",
        help="How finely a level can be set: 1 % if it shows whole percents of 10 V, 20 mV, or 1 code if it"
        " takes the converter's own numbers.",
    ),
    Question(
        name="between", page=Page.CONTROLLER,
        form=forms.choice({"line": ("ramp", "straight", "fade"), "hold": ("step", "jump", "stay")}),
        text="How the level goes from one row to the next",
        help="line: it moves in a straight line. hold: it stays until the next row, then jumps. Set two rows"
        " far apart and watch the meter between them.",
    ),
    Question(
        name="after_last_row", page=Page.CONTROLLER,
        form=forms.choice({"wrap": ("across midnight",), "hold": ("stay",)}),
        text="What follows the last row of the day",
        help="wrap: on across midnight to the first row. hold: the level stays until midnight; from midnight"
        " on the first row applies.",
    ),
    Question(
        name="relay", page=Page.CONTROLLER,
        form=forms.choice({"column": ("row", "rows"), "follows-level": ("level",), "none": ("no",)}),
        text="How the controller switches the mains of the ballasts",
        help="column: each row says whether the relay is closed. follows-level: the relay is closed while the"
        " level is at or above a level that you set. none: it switches no mains. An open control pair means"
        " full light, so darkness is the relay's job. Mains wiring is for a licensed person.",
    ),
    Question(
        name="on_level_percent", page=Page.CONTROLLER,
        form=forms.number("% of 10 V, {bounds}", 0, 100, forms.PERCENT, is_above_least=True),
        text="The level at and above which the relay is closed",
        is_moot=rules.is_not("relay", "follows-level"),
        help="It must be at least one step of level, and not above the floor volts of the ballasts.",
    ),
    Question(
        name="clock", page=Page.CONTROLLER, form=forms.choice(_CLOCKS),
        text="What the controller's clock shows",
        help="standard: the time of the zone without summer time, all year. civil: the time on the wall, with"
        " summer time. utc: Universal Time.",
    ),
    Question(
        name="plan_clock", page=Page.CONTROLLER, form=forms.choice(_CLOCKS), is_moot=rules.clocks_are_one,
        text="Which clock your own times below mean",
        default=lambda answers, _: answers.get(("clock", "")),
        help="Animals keep no summer time: with standard their day never jumps, and the table is converted to"
        " the controller's clock; it then changes on the dates on which clocks change.",
    ),
    Question(
        name="bits", page=Page.CONTROLLER,
        form=forms.number("a whole number {bounds}", 6, 16, forms.BITS, is_whole=True),
        text="How many bits the converter (DAC or PWM) has",
        help="In the data sheet of the chip, or in the program of the controller: 8 bits are 256 values, 10"
        " bits 1024, 12 bits 4096.",
    ),
    Question(
        name="full_scale_volts", page=Page.CONTROLLER,
        form=forms.number("volts {bounds}, such as 8.5", 0, 24, forms.VOLTS, is_above_least=True),
        text="Volts at the port when the converter is at its top",
        help="Measure it with the ballasts connected, if you can. If not, the gain of the amplifier says it;"
        " measure later.",
    ),
    Question(
        name="ballasts", page=Page.BALLASTS, form=forms.ids("pair, strip"),
        text="A short name for each kind of ballast or LED driver",
        help="Ballasts of one model are one kind, however many there are. A strip of LEDs for the moon has a"
        " driver of its own kind.",
    ),
    Question(
        name="response", page=Page.BALLASTS, each=Each.BALLAST,
        form=forms.choice({"linear": (), "square-law": ("square", "quadratic"),
                           "log-law": ("logarithmic", "log"), "swept": ("measured", "sweep")}),
        text="{subject}: how light follows the control volts",
        help="linear: light rises evenly with the volts. square-law: the root of light does, so that half"
        " the volts give about a quarter of the light. log-law: its logarithm does. The curve stands in the"
        " data sheet. If it does not, take the nearest now and measure later (docs/readings.md). swept: you"
        " have measured it, and the readings stand in a file.",
    ),
    Question(
        name="sweep_file", page=Page.BALLASTS, each=Each.BALLAST, form=forms.path("sweep.csv"),
        text="{subject}: the file of its sweep", is_moot=rules.is_not("response", "swept"),
        help="Volts and light, as `photoperiod measure sweep` reads them, by its path from the folder of the"
        " schedule. That command tells floor and full, too.",
    ),
    Question(
        name="floor_volts", page=Page.BALLASTS, each=Each.BALLAST, objection=rules.floor_within_port,
        form=forms.number("volts {bounds}, such as 8.5", 0, 10, forms.VOLTS),
        text="{subject}: floor, the volts at and below which it holds its least light",
        help="For a 1-10 V ballast it is often 1 V. In the data sheet, or: lower the volts until the light no"
        " longer changes.",
    ),
    Question(
        name="floor_light_percent", page=Page.BALLASTS, each=Each.BALLAST,
        form=forms.number("% of full light, {bounds}", 0, 99, forms.PERCENT, is_above_least=True),
        text="{subject}: that least light, in % of full",
        help="The dimming range of the data sheet begins with it: 1 to 100 % means 1. Or a meter: PPFD at the"
        " floor divided by PPFD at full.",
    ),
    Question(
        name="full_volts", page=Page.BALLASTS, each=Each.BALLAST, objection=rules.full_above_floor,
        form=forms.number("volts {bounds}, such as 8.5", 0, 10, forms.VOLTS, is_above_least=True),
        text="{subject}: volts at and above which it gives full light",
        help="Usually 10 V; some reach full a little below. In the data sheet.",
    ),
    Question(
        name="dark", page=Page.BALLASTS, each=Each.BALLAST, objection=rules.dark_has_a_relay,
        form=forms.choice({"relay": ("mains",), "standby": ("itself", "by itself"), "never": ("no",)}),
        text="{subject}: what makes it dark",
        help="relay: only without mains, as usual for ballasts of tubes. standby: it goes dark by itself"
        " below some volts. never: it has mains all the time and holds its floor all night. Corals need"
        " a dark night.",
    ),
    Question(
        name="standby_volts", page=Page.BALLASTS, each=Each.BALLAST, objection=rules.standby_below_floor,
        form=forms.number("volts {bounds}, such as 8.5", 0, 10, forms.VOLTS, is_above_least=True),
        text="{subject}: volts below which it is dark by itself", is_moot=rules.is_not("dark", "standby"),
        help="In the data sheet, or: lower the volts slowly until the light goes out.",
    ),
    Question(
        name="keeps_mains", page=Page.BALLASTS, each=Each.BALLAST, form=_YES_NO,
        text="{subject}: whether its mains stay on in the dark",
        is_moot=lambda answers, subject: (
            answers.get(("dark", subject)) != "standby" or answers.get(("relay", "")) == "none"
        ),
        help="yes: it has mains all night and stays dark by its standby alone; if the wire breaks it gives"
        " full light. no: the relay opens in the dark, too.",
    ),
    Question(
        name="channels", page=Page.CHANNELS, form=forms.ids("blue, white, moon"),
        text="A short name for each channel",
        help="A channel is what one output of the controller drives: ballasts of one kind with their tubes.",
    ),
    Question(
        name="ballast", page=Page.CHANNELS, each=Each.CHANNEL, form=forms.id_("pair"),
        objection=rules.is_one_of("ballasts"), one_of="ballasts", text="{subject}: its kind of ballast",
        is_moot=lambda answers, _: len(rules.names(answers, "ballasts")) == 1,
        help="One of the names that you gave to ballasts and drivers.",
    ),
    Question(
        name="ballast_count", page=Page.CHANNELS, each=Each.CHANNEL,
        form=forms.number("a whole number {bounds}", 1, 100, forms.PIECES, is_whole=True),
        text="{subject}: how many ballasts or drivers hang on this output",
        help="A ballast may drive several tubes. The current that the port must sink and the energy hang on"
        " this number.",
    ),
    Question(
        name="tubes", page=Page.CHANNELS, each=Each.CHANNEL, form=forms.tubes(),
        text="{subject}: how many tubes, with their watts (0 for LEDs)",
        help="Count all that burn on this channel; each may have another number. LEDs have none: 0. If they"
        " differ in watts or age, write them apart in the file afterwards. Tubes count as new: for those that"
        " have burned, write `lit_hours` into the file.",
    ),
    Question(
        name="tube_watts", page=Page.CHANNELS, each=Each.CHANNEL,
        form=forms.number("watts {bounds}", 0, 500, forms.WATTS, is_above_least=True),
        text="{subject}: watts of one tube",
        is_moot=lambda answers, subject: rules.tube_count(answers, subject) == 0
        or len(answers[("tubes", subject)]) == 2,  # type: ignore[arg-type]
        help="Printed on the tube.",
    ),
    Question(
        name="burn_in_hours", page=Page.CHANNELS, each=Each.CHANNEL, is_moot=rules.can_not_burn_in,
        form=forms.number("hours {bounds}", 0, 1000, forms.HOURS),
        text="{subject}: burn-in, hours at full that new tubes still owe before they are dimmed",
        help="0 for tubes that have burned. NEMA LSD 23-2010 recommends about 12 h if lamps are unstable, and"
        " says that rated life does not need it; the data sheet of the tubes decides.",
    ),
    Question(
        name="fitted", page=Page.CHANNELS, each=Each.CHANNEL, is_moot=rules.has_no_tubes,
        default=rules.later_if_nothing_is_owed,
        form=forms.or_word(forms.date(has_time=True), LATER, forms.LIKE_LATER),
        text="{subject}: when its tubes are fitted",
        help="A date, or a date and a time: 2027-03-02 08:00. Their hours are counted from then on. Without"
        " it they count as fitted on the first date of each run of compile.",
    ),
    Question(
        name="lit_night_because", page=Page.CHANNELS, each=Each.CHANNEL, is_moot=rules.night_can_be_dark,
        form=forms.label("a reason of at least eight characters", 8),
        text="{subject}: its nights can't be dark. Why may they stay lit",
        help="Corals need a dark night, so compile refuses such a table unless the file accepts it and says"
        " why, such as: algae only, no corals. `back dark` goes to what makes the ballast dark.",
    ),
    Question(
        name="zones", page=Page.ZONES,
        form=forms.or_word(forms.ids("crest, sand"), LATER, forms.LIKE_LATER),
        text="A short name for each part of the tank with animals of its own",
        help="A zone gets a dose and a limit of its own: the top of the rocks, the sand below. One is enough"
        " to begin with. With later, nothing guards the animals until you write zones into the file.",
    ),
    Question(
        name="readings_file", page=Page.ZONES, is_moot=rules.has_no_zones,
        form=forms.or_word(forms.path("readings.csv"), "none", ("no", "-")), default=lambda _, __: "none",
        text="A file of readings of their light, if you have one",
        help="What a meter told in each zone, channel by channel, in a CSV file with the columns `zone`,"
        " `channel`, `level_percent`, `immersion_applied` (`yes` for a number that counts as it stands) and"
        " `ppfd_umol_m2_s`; `photoperiod measure map` shows what it gives. Its path is that from the"
        " folder of the schedule. Readings with positions in place of zones need an `extent` in each zone:"
        " answer none, and write both afterwards (docs/readings.md). With none, you are asked for"
        " one number for each channel and zone.",
    ),
    Question(
        name="dli", page=Page.ZONES, each=Each.ZONE,
        form=forms.or_word(
            forms.band("two numbers in mol m-2 a day, least to most, such as 8 to 12", 200), LATER,
            forms.LIKE_LATER),
        text="{subject}: its dose a day (DLI), least to most",
        help="DLI is the sum of PPFD over a day: 200 µmol m-2 s-1 for 10 hours are"
        " 200 x 36,000 / 1,000,000 = 7.2 mol m-2. A dose outside the two numbers is a warning.",
    ),
    Question(
        name="ppfd_max", page=Page.ZONES, each=Each.ZONE,
        form=forms.or_word(
            forms.number("PPFD in µmol m-2 s-1, {bounds}", 0, 5000, forms.PPFD, is_above_least=True),
            LATER, forms.LIKE_LATER),
        text="{subject}: the most light (PPFD, which reef keepers call PAR) that it may ever get",
        help="compile refuses a table that gives more, even for a second. If you don't know: what the animals"
        " are used to now, at its brightest.",
    ),
    Question(
        name="full_ppfd", page=Page.ZONES, each=Each.READING, is_moot=rules.has_readings_file,
        form=forms.or_word(forms.number("PPFD in µmol m-2 s-1, {bounds}", 0, 5000, forms.PPFD), LATER,
                           forms.LIKE_LATER),
        text="Channel {channel} alone, at full, warm: PPFD in zone {zone}",
        help="Switch the other channels off, set this one to full, wait until the lamps are warm, and hold"
        " the meter where the animals are. 0 if none of its light falls there. With later, no dose is known.",
    ),
    Question(
        name="measured_on", page=Page.ZONES, is_moot=rules.no_reading, objection=rules.measured_after_fitting,
        form=forms.or_word(forms.date(), LATER, forms.LIKE_LATER),
        text="When that was measured",
        help="Tubes fade: with the date, light on other dates follows from the hours of the tubes.",
    ),
    Question(
        name="gives", page=Page.DAY, each=Each.CHANNEL, default=lambda _, __: "day",
        form=forms.choice({"day": (), "moon": ("night",), "both": ("day and moon",)}),
        text="{subject}: what it is for",
        help="day: dawn, a peak, dusk. moon: a faint light at night.",
    ),
    Question(
        name="dawn", page=Page.DAY, each=Each.CHANNEL, is_moot=rules.gives_no_day,
        objection=rules.needs_place,
        form=forms.time_of_day(), default=rules.like_the_channel_before("dawn"),
        text="{subject}: first light",
        help="When its light begins to rise from dark. With a place, an event may stand instead: sunrise,"
        " civil dawn, sunrise + 30 min. Then compile needs dates.",
    ),
    Question(
        name="dusk", page=Page.DAY, each=Each.CHANNEL, is_moot=rules.gives_no_day,
        objection=rules.dusk_after_dawn,
        form=forms.time_of_day(is_end=True, has_next_day=True), default=rules.like_the_channel_before("dusk"),
        text="{subject}: last light",
        help="When it is dark again. Light that goes on past midnight: 02:00 next day. With a place, an event"
        " may stand instead: sunset, civil dusk, sunset - 30 min.",
    ),
    Question(
        name="ramp_minutes", page=Page.DAY, each=Each.CHANNEL, is_moot=rules.gives_no_day,
        objection=rules.ramps_fit, form=forms.minutes("minutes {bounds}, such as 60 or 1.5 h", 0, 720),
        default=rules.like_the_channel_before("ramp_minutes"),
        text="{subject}: how long its dawn takes, and its dusk, in minutes",
        help="From dark to the peak, and back. Animals that are frightened by sudden light want an hour or"
        " more (common practice, no source). 0 is a step.",
    ),
    Question(
        name="peak_light_percent", page=Page.DAY, each=Each.CHANNEL, is_moot=rules.gives_no_day,
        form=forms.number("% of full light, {bounds}", 0, 100, forms.PERCENT),
        default=rules.like_the_channel_before("peak_light_percent"),
        text="{subject}: light at its peak, in % of full",
        help="In percent of the light at full, not of the volts: 80 % light on a square-law ballast is 8.9 V."
        " Begin low; raise it slowly.",
    ),
    Question(
        name="moonlight", page=Page.DAY, each=Each.CHANNEL, is_moot=rules.gives_no_moon,
        objection=rules.moon_needs_place,
        form=forms.choice({"steady": (), "phase": (), "phase-and-rise": ("rise",)}),
        default=lambda _, __: "steady", text="{subject}: its moonlight",
        help="steady: the same every night. phase: as bright as the moon is that night. phase-and-rise: only"
        " while the moon is up, which is a table for each night. The last two need a place.",
    ),
    Question(
        name="moon_light_percent", page=Page.DAY, each=Each.CHANNEL, is_moot=rules.gives_no_moon,
        form=forms.number("% of full light, {bounds}", 0, 100, forms.PERCENT),
        text="{subject}: light of the full moon, or of every night, in % of full",
        help="The moon is faint: natural moonlight is under 0.006 µmol m-2 s-1, and 0.15 at night did harm in"
        " a trial (PMC8256845). The floor of the driver is often far more.",
    ),
    Question(
        name="moon_start", page=Page.DAY, each=Each.CHANNEL, is_moot=rules.gives_no_moon,
        objection=rules.needs_place,
        form=forms.time_of_day(), text="{subject}: when its moonlight begins",
        help="If it begins while the day still has light, the brighter of the two counts.",
    ),
    Question(
        name="moon_end", page=Page.DAY, each=Each.CHANNEL, is_moot=rules.gives_no_moon,
        objection=rules.moon_ends_after_start,
        form=forms.time_of_day(is_end=True), text="{subject}: when its moonlight ends",
        help="An earlier time than the start is on the next morning.",
    ),
)  # fmt: skip

BY_NAME: Mapping[str, Question] = {question.name: question for question in QUESTIONS}
