from __future__ import annotations

from pathlib import Path

import pytest

from tests.conftest import made_once
from tests.targets.tools import compile_host


@pytest.fixture(scope="session")
def host(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a program that plays images by 32-bit numbers, with sanitizers on."""
    return made_once(tmp_path_factory, "host", compile_host)


@pytest.fixture(scope="session")
def host_wide(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the same by 64-bit numbers, as C++."""
    return made_once(
        tmp_path_factory, "wide", lambda folder: compile_host(folder, plus_plus=True, wide=True)
    )
