"""``manifest.json``: the files it lists, written and read back."""

from __future__ import annotations

import hashlib
import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from photoperiod.formats import manifest
from photoperiod.source.json_schema import validate
from tests.conftest import SCHEDULE, compiled

PROGRAM = compiled(SCHEDULE).program

FILES = st.dictionaries(st.text(min_size=1, max_size=12), st.binary(max_size=40), max_size=5)


@given(FILES)
def test_the_names_that_are_written_are_read_back(files: dict[str, bytes]) -> None:
    raw = manifest.render(PROGRAM, [], files)
    assert manifest.listed_files(raw) == {"manifest.json", *files}
    data = json.loads(raw)
    assert validate(data, "manifest")[0] == []
    for name, content in files.items():
        assert data["files"][name] == {
            "bytes": len(content),
            "sha256": hashlib.sha256(content).hexdigest(),
        }


@given(st.binary(max_size=200))
def test_any_other_bytes_list_nothing(raw: bytes) -> None:
    assert manifest.listed_files(raw) == frozenset()


@pytest.mark.parametrize(
    "raw",
    [b"[" * 100_000, b"[]", b"{}", b'{"format": "photoperiod-manifest"}', b"null",
     b'{"format": "photoperiod-manifest", "files": 7}', b'{"format": "x", "files": {"a": {}}}',
     b'{"format": "photoperiod-manifest", "files": [[]]}'],
)  # fmt: skip
def test_a_broken_manifest_lists_nothing(raw: bytes) -> None:
    assert manifest.listed_files(raw) == frozenset()
