"""A missing tool is a failure in continuous integration, never a silent skip."""

from __future__ import annotations

import pytest
from _pytest.outcomes import Failed, Skipped

from tests.conftest import ROOT
from tests.targets.players import FIRMWARE
from tests.targets.tools import PACKAGES, tool


@pytest.fixture
def nothing_installed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("shutil.which", lambda *_, **__: None)


@pytest.mark.parametrize("name", [name for name in PACKAGES if not name.startswith("/")])
def test_missing_tools(name: str, monkeypatch: pytest.MonkeyPatch, nothing_installed: None) -> None:
    monkeypatch.setenv("CI", "true")
    with pytest.raises(Failed, match="install"):
        tool(name)
    monkeypatch.delenv("CI")
    with pytest.raises(Skipped, match="install"):
        tool(name)


def test_ci_installs_every_tool() -> None:
    ci = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert FIRMWARE in ci
    for packages in PACKAGES.values():
        for package in packages.removesuffix(", by pip").split(" and "):
            where = (ROOT / "pyproject.toml").read_text() if "by pip" in packages else ci
            assert package in where
