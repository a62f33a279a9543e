"""Write docs/api.md, the reference of the Python API, from the docstrings of what is public.

Run it from the top of the project: ``python docs/write_api.py``. A test fails if the page is not current.
"""

from __future__ import annotations

import dataclasses
import enum
import inspect
import re
import textwrap
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import photoperiod

PAGE = Path(__file__).parent / "api.md"

#: The sections of the page: a title, what stands under it, and its names in the order of reading.
SECTIONS: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    (
        "From a file to tables",
        "Load a schedule, compile it for some dates, look at what came out, write it.",
        ("load", "load_text", "compile", "write", "render_page", "Loaded", "Compiled", "Helpers"),
    ),
    (
        "What a program holds",
        "`Compiled.program` is a `Program`: dated tables, and in each what channels and zones get.",
        ("DateSpan", "Program", "Table", "ChannelDay", "ZoneDay", "Amounts"),
    ),
    (
        "Tables that were written before",
        "A table is read back from the file alone, and played as the controller plays it.",
        ("read_table", "replay", "PlayableTable", "OutputState"),
    ),
    (
        "Findings and errors",
        "What is wrong with a schedule or its tables is a value. What ends a run is an exception.",
        ("Diagnostic", "Severity", "Report", "ScheduleError", "OutsideWorldError", "WrongUse",
         "PhotoperiodError"),
    ),
    (
        "The schedule as values",
        "What `Loaded.schedule` holds, and what a schedule in Python is built from. Values are frozen:"
        " change them with `dataclasses.replace`.",
        ("Schedule", "Controller", "TimeGrid", "LevelGrid", "RelayMode", "Converter", "ClockKind",
         "Ballast", "BallastCurve", "Watts", "Tube", "Depreciation", "Zone", "Box", "PointList",
         "FromReadings", "Channel", "PpfdSpread", "Ramps", "Dawn", "Peak", "Dusk",
         "Points", "Point", "SunDay", "Moonlight", "ClockTime", "Event", "Place",
         "BorrowedSky", "DatedTables", "Costs", "Tariff", "PricedHours", "Labour", "Acceptance",
         "PlannedDay", "Acclimation", "DarkDays", "MovedHours", "OtherDay", "PartOut"),
    ),
    (
        "Kinds",
        "Words of the language as enumerations; their values are the words of a file.",
        ("AfterLastRow", "BallastThen", "BelowFloor", "Between", "BurnInPolicy", "ConverterKind", "Course",
         "DarkKind", "DepreciationKind", "LevelUnit", "LoadedBy", "MoonlightKind", "PeakOf",
         "RelayKind", "ResponseKind", "Rounding", "Shape", "Statistic", "SunEvent", "SunModel"),
    ),
)  # fmt: skip

_HEAD = """\
# Python API

<!-- Written by docs/write_api.py from the docstrings. Change those, not this page. -->

```python
import photoperiod as pp
```

PPFD is what reef keepers call PAR: light between 400 and 700 nm that falls on a place [µmol m⁻² s⁻¹].
DLI is its sum over a day [mol m⁻² d⁻¹]. Light of a channel is a fraction of its full light.
"""


def page() -> str:
    """Return the whole page."""
    parts = [_HEAD]
    for title, text, names in SECTIONS:
        parts.append(f"## {title}\n\n{text}\n")
        parts += [entry(name) for name in names]
    return "\n".join(parts)


def entry(name: str) -> str:
    """Return what the page says of one public name."""
    value = getattr(photoperiod, name)
    lines = [f"### `{name}`", ""]
    if inspect.isclass(value):
        lines += [*_documented(value), *_members(value)]
    else:
        lines += [f"```python\n{name}{_signature(value)}\n```", "", *_documented(value)]
    return "\n".join(lines).rstrip() + "\n"


def _signature(function: Any) -> str:
    """Return the parameters of a function as they are called, without the types of the docstring."""
    text = str(inspect.signature(function))
    return re.sub(r"photoperiod\.[\w.]+\.(\w+)", r"\1", text).replace("'", "")


def _documented(value: Any) -> Iterator[str]:
    """Yield a docstring as Markdown: sections become bold words, examples become code."""
    lines = (inspect.getdoc(value) or "").splitlines()
    at = 0
    while at < len(lines):
        line = lines[at]
        if at + 1 < len(lines) and set(lines[at + 1]) == {"-"}:
            yield f"**{line}**"
            yield ""
            at += 2
            at = yield from _section(lines, at, line)
        elif line.startswith(">>>"):
            at = yield from _code(lines, at)
        else:
            yield line.replace("``", "`")
            at += 1
    yield ""


def _section(lines: list[str], at: int, title: str) -> Iterator[str]:  # type: ignore[misc]
    """Yield a section of a docstring and return where it ends."""
    if title == "Examples":
        return (yield from _code(lines, at))
    while at < len(lines) and not (at + 1 < len(lines) and set(lines[at + 1]) == {"-"}):
        if not lines[at].strip():
            at += 1
            continue
        head, about = lines[at], []
        at += 1
        while at < len(lines) and lines[at].startswith(" "):
            about.append(lines[at].strip())
            at += 1
        name, _, kind = head.partition(" : ")
        shown = f"`{name}`" + (f" ({kind})" if kind else "")
        yield f"- {shown}: " + " ".join(about).replace("``", "`")
    yield ""
    return at


def _code(lines: list[str], at: int) -> Iterator[str]:  # type: ignore[misc]
    """Yield an example as a block of code and return where it ends."""
    yield "```python"
    while at < len(lines) and not (at + 1 < len(lines) and set(lines[at + 1]) == {"-"}):
        yield lines[at]
        at += 1
    yield "```"
    return at


def _members(value: type) -> Iterator[str]:
    """Yield the fields of a class that its docstring does not list, its words, and its methods."""
    if issubclass(value, enum.Enum):
        yield "Its values: " + ", ".join(f"`{each.value}`" for each in value) + "."
        yield ""
    elif dataclasses.is_dataclass(value) and "Parameters" not in (value.__doc__ or ""):
        names = ", ".join(f"`{field.name}`" for field in dataclasses.fields(value) if field.repr)
        yield f"Fields: {names}."
        yield ""
    for name, member in vars(value).items():
        if name.startswith("_"):
            continue
        if isinstance(member, property):
            yield f"**`.{name}`** {_first(member)}"
            yield ""
        elif inspect.isfunction(member):
            yield f"**`.{name}{_signature(member).replace('(self, ', '(').replace('(self)', '()')}`**"
            yield ""
            yield textwrap.dedent("\n".join(_documented(member))).rstrip()
            yield ""


def _first(member: Any) -> str:
    return " ".join((inspect.getdoc(member) or "").replace("``", "`").split())


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
