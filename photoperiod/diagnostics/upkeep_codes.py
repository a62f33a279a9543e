"""The codes of what a tank takes over the years: prices, and light that is held while tubes fade."""

from __future__ import annotations

from photoperiod.diagnostics.code import Code, Severity

_ERROR, _WARNING, _NOTE = Severity.ERROR, Severity.WARNING, Severity.NOTE

UPKEEP_CODES = (
    Code("PHO350", "hours-without-price", _ERROR, "hours of the day without a price",
         "With a tariff by hours each hour of the day must have its price. If a gap counted as free, the"
         " cost of a plan that is lit in it would be too low, and nobody would notice. Hours may cross"
         " midnight."),
    Code("PHO351", "hours-priced-twice", _ERROR, "hours of the day with two prices",
         "Two stretches of a tariff overlap, and the compiler does not choose for you. Let each stretch"
         " begin where the one before it ends."),
    Code("PHO352", "price-without-currency", _ERROR, "a price in no currency",
         "All prices of a schedule are in one currency: `costs: {currency: EUR}`. The program does not"
         " convert between currencies."),
    Code("PHO353", "light-not-to-hold", _ERROR, "light that is to be held where it can't be",
         "`hold_light` raises the levels of a channel as its tubes fade. For that the fade must be told"
         " (`depreciation`), and the day must go by the clock: days that follow the sky have tables of"
         " their own for each season."),
    Code("PHO450", "light-not-held", _WARNING, "light that can't be held any more",
         "The tubes have faded so far that the peak of the plan would need more than full light, so the"
         " dose is below the plan's by more than `dose_within_percent` from this date on. Replace tubes"
         " before that date, one half at a time; or plan a lower peak, so that there is room above it."),
    Code("PHO451", "older-tubes-assumed", _NOTE, "older tubes that are taken to burn before new ones",
         "A channel is lit on all dates, also before the first tube that the file names for a place is"
         " fitted. What burns there until then is not told: it is taken as worn out where the loss of the"
         " tube and its `replace_after_hours` are declared, else like the tubes that are named. The doses"
         " of these dates are as sure as that."),
    Code("PHO517", "calendar-library-missing", _ERROR, "a library for calendars that is not installed",
         "Calendars (RFC 5545) are written by the library icalendar, which comes with"
         " the extra `calendar`: `pip install '.[calendar]'` in the checkout, or `'photoperiod[calendar]'`"
         " if the program was installed by that name. As text the agenda needs no library. Exit code 4."),
)  # fmt: skip
