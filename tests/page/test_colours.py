"""Colours of the page: contrast by WCAG 2.2, also as the colour-blind see them."""

from __future__ import annotations

import itertools
import re
import warnings

import numpy as np
import pytest

from photoperiod.page.render import text_of

#: WCAG 2.2 (W3C Recommendation, 2023): 1.4.3 text, 1.4.11 what a picture needs to be understood.
TEXT_CONTRAST, PICTURE_CONTRAST = 4.5, 3.0

LIGHT, DARK = (
    dict(re.findall(r"--(\w+):(#[0-9a-f]{3,6})", block))
    for block in re.findall(r":root\{([^}]*)\}", text_of("style.css"))[:2]
)
PRINT = dict(
    re.findall(r"--(\w+):(#[0-9a-f]{3,6})", text_of("style.css").partition("@media print")[2])
)

#: Machado, Oliveira & Fernandes 2009, as colour-science has it; severity 1 is dichromacy.
BLIND = ("Protanomaly", "Deuteranomaly", "Tritanomaly")

Colour = tuple[float, float, float]


def rgb(text: str) -> Colour:
    digits = text.removeprefix("#")
    digits = digits if len(digits) == 6 else "".join(2 * digit for digit in digits)
    r, g, b = (int(digits[at : at + 2], 16) / 255 for at in (0, 2, 4))
    return r, g, b


def linear(value: float) -> float:
    """WCAG 2.2, "relative luminance"."""
    return value / 12.92 if value <= 0.04045 else float(((value + 0.055) / 1.055) ** 2.4)


def contrast(one: Colour, other: Colour) -> float:
    """WCAG 2.2, "contrast ratio"."""
    low, high = sorted(
        sum(w * linear(v) for w, v in zip((0.2126, 0.7152, 0.0722), each, strict=True))
        for each in (one, other)
    )
    return (high + 0.05) / (low + 0.05)


def seen(value: Colour, kind: str) -> Colour:
    """Return a colour as somebody sees it who lacks one kind of cones."""
    import colour  # it takes a second, in each worker that collects this file

    with warnings.catch_warnings():  # that its model of tritanopia is a rough one
        warnings.simplefilter("ignore", colour.utilities.ColourUsageWarning)
        matrix = colour.blindness.matrix_cvd_Machado2009(kind, 1.0)
    r, g, b = np.clip(matrix @ np.array(value), 0.0, 1.0).tolist()
    return r, g, b


def test_the_formula_gives_what_is_known() -> None:
    assert contrast(rgb("#fff"), rgb("#000")) == pytest.approx(21.0)  # WCAG 2.2: from 1 to 21
    assert contrast(rgb("#777777"), rgb("#fff")) == pytest.approx(
        4.48, abs=0.005
    )  # just too little


@pytest.mark.parametrize("theme", [LIGHT, DARK, PRINT], ids=["light", "dark", "print"])
def test_words_can_be_read(theme: dict[str, str]) -> None:
    for ground, ink in itertools.product(("ground", "paper"), ("ink", "soft", "mark")):
        assert contrast(rgb(theme[ground]), rgb(theme[ink])) >= TEXT_CONTRAST, (ground, ink)
    assert contrast(rgb(theme["ground"]), rgb(theme["hatch"])) >= PICTURE_CONTRAST


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize("kind", BLIND)
def test_words_can_be_read_by_the_colour_blind(theme: dict[str, str], kind: str) -> None:
    for ink in ("ink", "soft", "mark"):
        found = contrast(seen(rgb(theme["ground"]), kind), seen(rgb(theme[ink]), kind))
        assert found >= TEXT_CONTRAST, ink


def test_nothing_is_told_by_colour_alone() -> None:
    """One colour beside ink, and each look that has it says so by its shape or by words, too."""
    style = text_of("style.css")
    coloured = {
        selector
        for rule, body in re.findall(r"([^{}]+)\{([^{}]*var\(--mark\)[^{}]*)\}", style)
        for selector in rule.strip().split(",")
    }
    told = {
        ".limit": "a thick line, with the word limit",
        ".load": "a line across, with its number",
        ".load-number": "a number",
        "svg .mark": "words",
        ".hair": "a line under the pointer",
        ".wrong": "the words low and high",
        ".error": "the word error",
        ".refused strong": "words",
        ".refused": "a frame with words",
        "mark": "an underline",
        ".over": "an indented block",
    }
    assert coloured == told.keys()


def test_greys_of_the_year_rise_in_steps_that_can_be_seen() -> None:
    steps = [
        float(x)
        for x in re.findall(
            r"\.grey-\d\{fill:var\(--ink\);fill-opacity:([\d.]+)", text_of("style.css")
        )
    ]
    for theme in (LIGHT, DARK):
        ground, ink = rgb(theme["ground"]), rgb(theme["ink"])
        greys = [
            tuple(g + (i - g) * step for g, i in zip(ground, ink, strict=True))
            for step in (0.0, *steps)
        ]
        ratios = [contrast(a, b) for a, b in itertools.pairwise(greys)]  # type: ignore[arg-type]
        assert len(ratios) == 5
        assert min(ratios) > 1.15  # our choice, no source
        assert contrast(greys[0], greys[-1]) >= PICTURE_CONTRAST  # type: ignore[arg-type]
