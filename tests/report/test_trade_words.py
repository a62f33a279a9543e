"""What the words of the trade say is what the program does."""

from __future__ import annotations

import pytest

from photoperiod.report.trade_words import TRADE_WORDS
from photoperiod.units import NIGHT_PPFD_UMOL_M2_S
from tests.conftest import changed, compiled

#: Two hours of light, a dark hour, and two hours of light; linear ramps of no length.
TWO_STRETCHES = (
    "      dawn: {start: 09:00, minutes: 60}\n"
    "      peaks: [{light_percent: 80}]\n"
    "      dusk: {end: 21:00, minutes: 60}\n",
    "      dawn: {start: 10:00, minutes: 0}\n"
    "      peaks: [{light_percent: 80}, {from: 12:00, minutes: 0, light_percent: 0},"
    " {from: 13:00, minutes: 0, light_percent: 80}]\n"
    "      dusk: {end: 15:00, minutes: 0}\n",
)

#: Lines of a table take a time step, here a minute, from one level to another.
FOUR_EDGES_S = 240


def more(name: str) -> str:
    return next(w.more for section in TRADE_WORDS for w in section.words if name in w.names)


def test_a_keeper_reads_why_each_word_of_the_trade_matters() -> None:
    trade, *_ = TRADE_WORDS
    assert trade.title == "Words of the trade"
    assert all(word.more for word in trade.words)


@pytest.mark.parametrize(
    ("full_ppfd", "zone_hours"),
    [
        ("130", 4),
        ("0.18", 0),  # 80 % of it are 0.144, below what the word says
        ("0.2", 4),  # 80 % of it are 0.16
    ],
)
def test_photoperiod_is_all_light_of_a_channel_and_of_a_zone_all_that_is_no_night(
    full_ppfd: str, zone_hours: int
) -> None:
    """By hand: 2 h and 2 h of light, a dark hour between them that does not count."""
    assert f"at least {NIGHT_PPFD_UMOL_M2_S:g} µmol" in " ".join(more("photoperiod").split())
    program = compiled(
        changed(TWO_STRETCHES, ("zones: {crest: 130}", f"zones: {{crest: {full_ppfd}}}"))
    ).program
    assert program is not None
    assert program.channels["blue"].lit_seconds == 4 * 3600
    seconds = program.zones["crest"].photoperiod_s
    assert seconds == pytest.approx(zone_hours * 3600, abs=FOUR_EDGES_S)
