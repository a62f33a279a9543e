"""Constants and conversions, each with its unit and where it comes from."""

import datetime as dt

SECONDS_PER_DAY = 86_400
SECONDS_PER_HOUR = 3_600
SECONDS_PER_MINUTE = 60

#: Full scale of the control interface [V]: at or above it the ballast gives full light.
#: IEC 60929, Annex E, as quoted by luminaire makers.
CONTROL_VOLTS_FULL = 10.0

#: Most current one control input sources into the controller [mA].
#: IEC 60929, Annex E, as quoted by luminaire makers.
CONTROL_MILLIAMPS_PER_BALLAST = 2.0

#: Photons: 1 mol = 1e6 µmol.
UMOL_PER_MOL = 1_000_000

#: PPFD at night [µmol m⁻² s⁻¹] from which coral symbionts were measurably harmed in a month.
#: PubMed Central article PMC8256845 (light at night and symbiont cultures).
NIGHT_PPFD_UMOL_M2_S = 0.15

#: Constant below which CIE 1976 lightness is linear: L* = (24389/27) Y, printed as
#: 903.3 (CIE 1976 lightness, as in the documentation of the colour-science library).
CIE_KAPPA = 24_389 / 27


def clock_text(second_of_day: int, *, with_seconds: bool = False) -> str:
    """Return a second of the day as ``HH:MM`` or ``HH:MM:SS``; 86,400 is ``24:00``."""
    hours, rest = divmod(second_of_day, SECONDS_PER_HOUR)
    minutes, seconds = divmod(rest, SECONDS_PER_MINUTE)
    if with_seconds or seconds:
        return f"{hours:02d}:{minutes:02d}:{seconds:02d}"
    return f"{hours:02d}:{minutes:02d}"


def utc_text(unix_s: float) -> str:
    """Return an instant in UTC to the second, as RFC 3339 has it; a number where no calendar does."""
    try:
        moment = dt.datetime.fromtimestamp(int(unix_s), dt.UTC)
    except (ValueError, OverflowError, OSError):
        return f"{unix_s:.0f} s"
    return moment.strftime("%Y-%m-%dT%H:%M:%SZ")


def hours_text(seconds: float) -> str:
    """Return a duration as hours and minutes, ``11 h 59 min``; in seconds below a minute."""
    if 0 < seconds < SECONDS_PER_MINUTE:
        return f"{round(seconds)} s"
    minutes = round(seconds / SECONDS_PER_MINUTE)
    return f"{minutes // 60} h {minutes % 60:02d} min"


def number_text(value: float, decimals: int = 2) -> str:
    """Return a number with at most ``decimals`` decimals and no trailing zeros."""
    text = f"{value:.{decimals}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def plain_number(value: float) -> str:
    """Return a number with all the digits that matter, as a person would write it."""
    return f"{value:.12g}"


def counted(number: float, what: str, decimals: int = 0) -> str:
    """Return a number and a noun, the noun in the plural unless there is just one."""
    text = number_text(number, decimals)
    return f"{text} {what}" + ("" if text == "1" else "s")
