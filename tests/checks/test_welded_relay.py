from __future__ import annotations

import re

import pytest

from tests.checks.bench import (
    Day,
    assert_only_in_table,
    bench,
    finding,
    findings,
    handmade,
    marked,
    two_dates,
)

CODE = "PHO429"

LINES = bench(("between: hold", "between: line"))

#: Level 0 at 18:00, and a line of 14 h to the level of 08:00.
UNGUARDED = Day(
    levels={
        "weak": [("07:45", 0), ("08:00", 80), ("17:45", 80), ("18:00", 0)],
        "strong": [("08:00", 60), ("17:45", 60), ("18:00", 0)],
    }
)


def test_what_a_welded_relay_would_give_is_said() -> None:
    found = finding(CODE, handmade(LINES, UNGUARDED), LINES)
    assert marked(found, LINES) == (33, 3, "strong")
    # 13.75 h of 14 h up a line to 60 %: 58.9, so level 59
    assert found.message.startswith(
        "if the relay of 'strong' were welded, the lamp would give up to 59 % light in planned"
        " darkness, at 07:45, and add "
    )
    # Above 10 % a triangle of 0.5 · 0.5 / 0.6 · 50,400 s / 2 = 10,500 s, less 0.4955 for the last 899 s,
    # at 100 µmol m⁻² s⁻¹; by plan crest gets 100 µmol m⁻² s⁻¹ for 36,000 s.
    share = re.search(r"add ([0-9.]+) % to the dose of zone 'crest'$", found.message)
    assert share is not None
    assert float(share[1]) == pytest.approx(100 * (10_500 - 445) * 100 / 3.6e6, abs=0.1)


def test_the_zone_with_the_largest_share_is_named() -> None:
    levels = {**UNGUARDED.levels, "weak": UNGUARDED.levels["weak"][1:]}
    found = findings(CODE, handmade(LINES, Day(levels=levels)), LINES)
    assert [marked(each, LINES) for each in found] == [(28, 3, "weak"), (33, 3, "strong")]
    # weak alone lights sand: more than half of what it gives by day. crest has strong too.
    assert "to the dose of zone 'sand'" in found[0].message
    assert "to the dose of zone 'crest'" in found[1].message


def test_levels_that_are_held_stay_at_zero() -> None:
    assert findings(CODE, handmade(bench(), UNGUARDED)) == []


def test_a_line_to_the_floor_gives_the_floor() -> None:
    levels = [("08:00", 10), ("12:00", 60), ("18:00", 0)]
    day = Day(levels={**UNGUARDED.levels, "strong": levels})
    assert findings(CODE, handmade(LINES, day), LINES) == []


@pytest.mark.parametrize("table", [0, 1])
def test_every_table_is_looked_at(table: int) -> None:
    guarded = Day(
        levels={
            id: [("07:45", 0), *(row for row in rows if row[0] != "07:45")]
            for id, rows in UNGUARDED.levels.items()
        }
    )
    days = [guarded, guarded]
    days[table] = UNGUARDED
    assert_only_in_table(CODE, two_dates(LINES, *days), table)
