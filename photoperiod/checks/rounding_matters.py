"""A controller that rounds otherwise would stray."""

from collections.abc import Iterator

from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program
from photoperiod.text import number_text

CODE = "PHO416"
TITLE = "the controller's way of rounding does not matter much"
NEEDS_DATES = False

#: A difference from which it is reported [fraction of full]. Our choice, no source.
WORTH_LIGHT = 0.02


def check(program: Program) -> Iterator[Diagnostic]:
    """Yield one finding for the channel that depends most on the rounding."""
    found = [
        (error, rounding, id)
        for id, c in program.channels.items()
        for rounding, error in c.rounding_errors.items()
    ]
    controller = program.schedule.controller
    if controller.rounding_is_stated or not found or max(found)[0] <= WORTH_LIGHT:
        return
    error, rounding, id = max(found)
    yield Diagnostic(
        code=CODE,
        path=(*controller.origin, "emits"),
        on_key=True,
        message=f"a controller that rounds '{rounding}' instead of '{controller.levels.rounding}'"
        f" would change '{id}' by up to {number_text(error * 100, 1)} % of full light",
        help="find out how it rounds and write `emits: {rounding: …}`, or use a finer level step",
    )
