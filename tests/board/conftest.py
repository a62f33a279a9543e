from __future__ import annotations

import os

import pytest


@pytest.fixture(autouse=True)
def syncs(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """No test waits for the disk: a day asks for it thousands of times. Each call is counted."""
    seen: list[int] = []
    monkeypatch.setattr(os, "fsync", seen.append)
    return seen
