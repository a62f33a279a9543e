"""``manifest.json``: what was written, from what, with which versions, and for which dates."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence

from photoperiod.diagnostics.model import Diagnostic
from photoperiod.formats.integrity import sha256
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
            name: {"bytes": len(content), "sha256": sha256(content)}
            for name, content in files.items()
        },
    }
    return json_bytes(data)


def listed_files(raw: bytes) -> frozenset[str]:
    """Return the names of the manifest and the files it lists; none if it is no manifest."""
    try:
        data = json.loads(raw)
        return frozenset((FILE_NAME, *data["files"])) if data["format"] == FORMAT else frozenset()
    except (ValueError, KeyError, TypeError, RecursionError):
        return frozenset()
