from __future__ import annotations

from types import ModuleType

import pytest

from photoperiod.setpoints import fit
from tests.conftest import made_once
from tests.kernel.comparing import build, loaded


@pytest.fixture(scope="session")
def kernel(tmp_path_factory: pytest.TempPathFactory) -> ModuleType:
    """The compiled kernel, built of the source as it is now."""
    return loaded(made_once(tmp_path_factory, "kernel", build))


@pytest.fixture(autouse=True)
def _fits_are_made_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    """A fit is made each time: with other constants, or by the other kernel, it is another one."""
    monkeypatch.setattr(fit, "remembered", fit.fit_anew)
