"""The page as bytes: jinja2 puts what the page holds into one HTML file that needs nothing else."""

from __future__ import annotations

import base64
import functools
import hashlib
import re
from collections.abc import Mapping, Sequence
from importlib import resources
from typing import TYPE_CHECKING, Any

from photoperiod.diagnostics.model import Report
from photoperiod.errors import OutsideWorldError
from photoperiod.page.scales import place_text
from photoperiod.page.unbroken import unbroken
from photoperiod.text import extra_text

if TYPE_CHECKING:
    from jinja2 import Environment
    from markupsafe import Markup

    from photoperiod.program.model import Program

#: What a page may speak with: a live one with who served it, any other with nobody.
SELF, NOBODY = "'self'", "'none'"

#: What a sentence means as it is typed.
IN_BACKTICKS = re.compile(r"`([^`]+)`")

#: Where templates, styles and scripts are.
FOLDER = resources.files("photoperiod.page") / "templates"


def render_page(
    program: Program,
    report: Report,
    lines: Sequence[str] = (),
    files: Mapping[str, bytes] | None = None,
    *,
    is_live: bool = False,
) -> bytes:
    """Return the page of a program.

    Parameters
    ----------
    program : Program
        What was compiled.
    report : Report
        Every finding on it. With an error among them the page says that nothing may be loaded.
    lines : sequence of str
        The lines of the schedule; empty for one that was built in Python.
    files : mapping of str to bytes or None
        The files of readings that the schedule names, for the map of light.
    is_live : bool
        True for a page that `live` serves: it loads itself anew.

    Raises
    ------
    OutsideWorldError
        PHO515 if jinja2 is not installed.
    """
    make = environment()
    from photoperiod.page.contents import contents_of

    return rendered(
        make, "page.html", is_live=is_live, page=contents_of(program, report, lines, files or {})
    )


def environment() -> Environment:
    """Return the templates.

    Raises
    ------
    OutsideWorldError
        PHO515 if jinja2 is not installed.
    """
    try:
        import jinja2  # noqa: F401
    except ImportError as error:
        raise OutsideWorldError(
            "PHO515",
            "the page needs a library that is not installed",
            extra_text("report"),
        ) from error
    return _templates()


@functools.cache
def _templates() -> Environment:
    """Return the templates; jinja2 compiles each of them once for all pages of this process."""
    from jinja2 import Environment, FunctionLoader, StrictUndefined

    found = Environment(
        loader=FunctionLoader(text_of),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    found.filters["place"] = place_text
    found.filters["code"] = code_html
    return found


def code_html(text: str) -> Markup:
    """Return text as HTML, with what stands between backticks as code."""
    from markupsafe import Markup, escape

    return Markup(IN_BACKTICKS.sub(r"<code>\1</code>", str(escape(text))))  # escaped just before


def text_of(name: str) -> str:
    """Return a file of the folder of templates."""
    return (FOLDER / name).read_text(encoding="utf-8")


def rendered(make: Environment, template: str, *, is_live: bool, **values: Any) -> bytes:
    """Return a template as a whole page, with its style, its script and what it may load: nothing."""
    scripts = [text_of("moment.js"), *([text_of("live.js")] if is_live else [])]
    script = "".join(scripts)
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    text = make.get_template(template).render(
        **values,
        is_live=is_live,
        style=text_of("style.css"),
        script=script,
        policy=(
            f"default-src 'none'; style-src 'unsafe-inline'; script-src 'sha256-{digest}';"
            f" img-src data:; connect-src {SELF if is_live else NOBODY};"
            " base-uri 'none'; form-action 'none'"
        ),
    )
    return unbroken(text).encode()
