"""The light would differ much if the controller rounded levels in another way."""

from collections.abc import Iterator

from photoperiod.checks.finding import on_key
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program
from photoperiod.text import number_text

#: A larger difference is reported [fraction of full]. Our choice, no source.
WORTH_LIGHT = 0.02


def rounding_matters(program: Program) -> Iterator[Diagnostic]:
    """Yield one finding, for the channel that depends most on the rounding."""
    found = [
        (error, rounding, id)
        for id, c in program.channels.items()
        for rounding, error in c.rounding_errors.items()
    ]
    controller = program.schedule.controller
    if controller.rounding_is_stated or not found or max(found)[0] <= WORTH_LIGHT:
        return
    error, rounding, id = max(found)
    yield on_key(
        "PHO416",
        (*controller.path, "emits"),
        f"a controller that rounds '{rounding}' instead of '{controller.levels.rounding}'"
        f" would change '{id}' by up to {number_text(error * 100, 1)} % of full light",
        help="find out how the controller rounds and write `emits: {rounding: …}`, or use a finer level step",
        gravity=error,
    )
