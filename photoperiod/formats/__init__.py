"""Outputs. A module has FILE_NAME and render(program, findings) → bytes, or render_files for many."""

from __future__ import annotations

from collections.abc import Sequence
from types import ModuleType

from photoperiod.diagnostics.model import Diagnostic
from photoperiod.formats import manifest, summary_json, table_csv, table_json, typing_sheet
from photoperiod.program.model import Program

#: What `compile` writes beside the manifest, in this order.
REGISTRY: tuple[ModuleType, ...] = (table_csv, table_json, summary_json)


def render_all(program: Program, findings: Sequence[Diagnostic]) -> dict[str, bytes]:
    """Return every output by its file name; the manifest, which names their digests, is last."""
    files = {module.FILE_NAME: module.render(program, findings) for module in REGISTRY}
    files |= typing_sheet.render_files(program, findings)
    files[manifest.FILE_NAME] = manifest.render(program, findings, files)
    return files
