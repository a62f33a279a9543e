from __future__ import annotations

from types import ModuleType

import pytest

from tests.kernel.comparing import build, loaded


@pytest.fixture(scope="session")
def kernel(tmp_path_factory: pytest.TempPathFactory) -> ModuleType:
    """The compiled kernel, built of the source as it is now."""
    return loaded(build(tmp_path_factory.mktemp("kernel")))
