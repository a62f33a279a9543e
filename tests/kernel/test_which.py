from __future__ import annotations

import sys
from collections.abc import Iterator
from types import ModuleType

import pytest

from photoperiod.kernel import which

MODULE = "photoperiod.kernel._paths"


@pytest.fixture(autouse=True)
def _fresh() -> Iterator[None]:
    def forget() -> None:
        which._built.cache_clear()
        which._chosen.cache_clear()

    forget()
    yield
    forget()


def test_without_the_built_file_numpy_does_the_work(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, MODULE, None)  # type: ignore[arg-type]
    monkeypatch.delenv(which.CHOICE, raising=False)
    assert which.compiled() is None
    assert which.in_use() == "numpy (the compiled kernel was not built)"
    monkeypatch.setenv(which.CHOICE, "compiled")
    with pytest.raises(which.UnknownKernel, match="was not built; leave it out to use numpy"):
        which.compiled()


def test_a_kernel_of_another_version_is_not_used(
    kernel: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, MODULE, kernel)
    monkeypatch.delenv(which.CHOICE, raising=False)
    assert which.compiled() is kernel
    assert which.in_use() == "compiled"
    monkeypatch.setattr(which, "VERSION", kernel.VERSION + 1)
    _forget = (which._built.cache_clear(), which._chosen.cache_clear())
    assert which.compiled() is None
    assert which.in_use() == (
        f"numpy (the compiled kernel has version {kernel.VERSION}, not {kernel.VERSION + 1}:"
        " install again)"
    )


def test_the_environment_chooses(kernel: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, MODULE, kernel)
    monkeypatch.setenv(which.CHOICE, "numpy")
    assert which.compiled() is None
    assert which.in_use() == "numpy (PHOTOPERIOD_KERNEL says so)"
    monkeypatch.setenv(which.CHOICE, "compiled")
    assert which.compiled() is kernel
    monkeypatch.setenv(which.CHOICE, "Numpy")
    with pytest.raises(which.UnknownKernel, match="'Numpy'; it can be 'numpy' or 'compiled'"):
        which.compiled()
