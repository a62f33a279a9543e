"""``manifest.json``: what was written, from what, with which versions, and how long it holds."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence

from photoperiod.diagnostics.model import Diagnostic
from photoperiod.formats.row_text import accepted, header, json_bytes
from photoperiod.program.model import Program

FILE_NAME = "manifest.json"
FORMAT = "photoperiod-manifest"


def render(program: Program, findings: Sequence[Diagnostic], files: Mapping[str, bytes]) -> bytes:
    """Return the manifest of some files, as ``schemas/manifest.schema.json`` describes it."""
    data = header(program, "manifest")
    data |= {
        "accepted": accepted(findings),
        "files": {
            name: {"bytes": len(content), "sha256": hashlib.sha256(content).hexdigest()}
            for name, content in files.items()
        },
    }
    return json_bytes(data)
