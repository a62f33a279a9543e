from __future__ import annotations

from photoperiod.page.hatches import HATCHES, by_hatch, hatches_of
from photoperiod.page.render import text_of
from tests.page.pages import example, program


def test_each_channel_has_a_hatch_of_its_own_and_the_rest_share_the_last() -> None:
    assert hatches_of(["blue", "white"]) == {"blue": 0, "white": 1}
    many = hatches_of(f"c{n}" for n in range(64))
    assert list(many.values()) == [*range(HATCHES - 1), *[HATCHES - 1] * (64 - HATCHES + 1)]


def test_every_hatch_is_a_pattern_of_the_page_and_a_style() -> None:
    page, style = text_of("page.html"), text_of("style.css")
    for number in range(HATCHES):
        assert f'<pattern id="hatch-{number}"' in page
        assert f".hatch-{number}{{fill:url(#hatch-{number})}}" in style
    assert f"hatch-{HATCHES}" not in page + style


def test_channels_of_one_hatch_are_drawn_together() -> None:
    channels = list(program(example("teaching-reef")).channels.values())
    apart = by_hatch(channels, hatches_of(c.channel.id for c in channels), 10)
    assert [(hatch, name) for hatch, name, _ in apart] == [
        (0, "Blue pair"),
        (1, "White p…"),
        (2, "Violet…"),
        (3, "LED m…"),
    ]
    (first, rest) = by_hatch(channels, {"blue": 0, "white": 7, "violet": 7, "moon": 7}, 10)
    assert first[1] == "Blue pair"
    assert (rest[0], rest[1], rest[2]) == (7, "3 others", channels[1:])
