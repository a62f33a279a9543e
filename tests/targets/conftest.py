from __future__ import annotations

from pathlib import Path

import pytest

from tests.targets.tools import compile_host


@pytest.fixture(scope="session")
def host(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a program that plays images by 32-bit numbers, with sanitizers on."""
    return compile_host(tmp_path_factory.mktemp("host"))


@pytest.fixture(scope="session")
def host_wide(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the same by 64-bit numbers, as C++."""
    return compile_host(tmp_path_factory.mktemp("wide"), plus_plus=True, wide=True)
