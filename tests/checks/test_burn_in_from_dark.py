from __future__ import annotations

from tests.checks.bench import Day, assert_found, bench, finding, findings, handmade, marked, on

CODE = "PHO421"
NEW = ("{watts: 54}", "{watts: 54, fitted: 2027-03-02T08:00, burn_in_full_hours: 12}")


def window(id: str, start_h: int, stop_h: int, *, is_outside: bool = True) -> dict[str, object]:
    """Return a table in which a channel is at full for some hours, with no light around them."""
    outside = frozenset({id} if is_outside else ())
    return {"windows": {id: (start_h * 3600, stop_h * 3600)}, "outside": outside}


def test_the_only_channel_burns_in() -> None:
    assert_found(CODE, [NEW], (26, 3, "blue"), "'blue' burns in at full from 10:36 to 19:24")


def test_the_window_and_the_date_are_those_of_the_first_such_table() -> None:
    program = handmade(
        bench(),
        Day(first=on(1), plan=window("strong", 9, 15, is_outside=False)),
        Day(first=on(2), last=on(3), plan=window("strong", 10, 16)),
        Day(first=on(4), plan=window("strong", 11, 17)),
    )
    found = finding(CODE, program)
    assert marked(found) == (33, 3, "strong")
    assert found.message == (
        "'strong' burns in at full from 10:00 to 16:00 on 2027-03-02, and no dimmable channel lights"
        " the same zones before and after it; and in 1 other table, from 2027-03-04"
    )


def test_the_first_and_the_last_table_are_looked_at() -> None:
    days = [Day(first=on(n)) for n in (1, 2, 3)]
    for table in (0, 2):
        found = finding(
            CODE,
            handmade(
                bench(),
                *days[:table],
                Day(first=on(table + 1), plan=window("weak", 10, 16)),
                *days[table + 1 :],
            ),
        )
        assert f"on 2027-03-0{table + 1}," in found.message


def test_a_window_across_midnight_ends_on_the_clock() -> None:
    program = handmade(bench(), Day(first=on(1), plan=window("weak", 22, 28)))
    assert "at full from 22:00 to 04:00 on" in finding(CODE, program).message


def test_a_window_between_the_light_of_others_is_fine() -> None:
    day = Day(first=on(1), plan=window("weak", 10, 16, is_outside=False))
    assert findings(CODE, handmade(bench(), day)) == []
    assert findings(CODE, handmade()) == []


def test_two_channels_are_found_in_the_order_of_the_file() -> None:
    both = {
        "windows": {"weak": (36_000, 57_600), "strong": (39_600, 61_200)},
        "outside": frozenset({"weak", "strong"}),
    }
    found = findings(CODE, handmade(bench(), Day(first=on(1), plan=both)))
    assert [marked(each) for each in found] == [(28, 3, "weak"), (33, 3, "strong")]
    assert "from 10:00 to 16:00" in found[0].message
    assert "from 11:00 to 17:00" in found[1].message
