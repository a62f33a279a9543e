from __future__ import annotations

import pytest

from photoperiod.setpoints import fit


@pytest.fixture(autouse=True)
def _fits_are_made_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    """A fit is made each time: with other constants, or by the other kernel, it is another one."""
    monkeypatch.setattr(fit, "remembered", fit.fit_anew)
