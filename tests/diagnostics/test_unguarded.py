from __future__ import annotations

from photoperiod.diagnostics.unguarded import Unguarded, ZoneLimit, unguarded_line


def test_one_line_says_what_where_and_why() -> None:
    each = [
        Unguarded(limits=(ZoneLimit.PPFD_MAX,), zones=("sand",), because="no ppfd_max"),
        Unguarded(
            limits=(ZoneLimit.DLI, ZoneLimit.DARK_HOURS),
            zones=("crest", "slope"),
            because="why not",
        ),
    ]
    assert unguarded_line(each) == (
        "not guarded: most light in zone 'sand' (no ppfd_max);"
        " daily dose, darkness in zones 'crest', 'slope' (why not)"
    )


def test_without_a_zone_no_zone_is_named() -> None:
    nowhere = Unguarded(limits=(ZoneLimit.PEAK_RISE,), zones=(), because="no zone")
    assert unguarded_line([nowhere]) == "not guarded: rise from day to day (no zone)"
    assert nowhere.data() == {
        "limits": ["peak_rise_percent_max"],
        "zones": [],
        "because": "no zone",
    }


def test_where_all_is_guarded_there_is_no_line() -> None:
    assert unguarded_line([]) == ""
