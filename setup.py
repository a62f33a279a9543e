"""Builds the wheel: the package, its schemas, and the compiled kernel where a compiler can build it.

Without a compiler the kernel is left out: the wheel then is one for every machine, numpy does the work
of the kernel, and the same bytes come out. On free-threaded Python it is left out, too: the stable ABI
does not know it.
"""

import shutil
import sys
import sysconfig
from pathlib import Path

from setuptools import Extension, setup
from setuptools.command.bdist_wheel import bdist_wheel
from setuptools.command.build_ext import build_ext
from setuptools.command.build_py import build_py

#: Compilers may fuse multiply and add, above all on ARM64: then the bytes would not be numpy's.
EXACT = {"msvc": ["/O2", "/fp:precise"], "unix": ["-O3", "-ffp-contract=off"]}
IS_FREE_THREADED = bool(sysconfig.get_config_var("Py_GIL_DISABLED"))
KERNEL = Extension(
    "photoperiod.kernel._paths",
    sorted(path.as_posix() for path in Path("photoperiod/kernel").glob("*.c")),
    depends=["setup.py", "photoperiod/kernel/_paths.h", "photoperiod/kernel/_stretch.h"],
    optional=True,
    py_limited_api=True,
)


class BuildKernel(build_ext):
    """Builds the kernel with doubles as numpy has them."""

    def build_extensions(self) -> None:
        """Build it, or leave it out."""
        for extension in self.extensions:
            extension.extra_compile_args = EXACT.get(self.compiler.compiler_type, EXACT["unix"])
        super().build_extensions()


class BuildPackage(build_py):
    """Copies the package without what an earlier build left, and the schemas into it."""

    def run(self) -> None:
        """Copy; an editable install finds the schemas where they are."""
        if not self.editable_mode:
            package = Path(self.build_lib, "photoperiod")
            shutil.rmtree(package, ignore_errors=True)
            for name in self.packages:  # older setuptools remember that they made these folders
                Path(self.build_lib, *name.split(".")).mkdir(parents=True, exist_ok=True)
        super().run()
        if not self.editable_mode:
            shutil.copytree("schemas", package / "schemas")


class BuildWheel(bdist_wheel):
    """Names the wheel for what is in it."""

    def finalize_options(self) -> None:
        """Leave the kernel out where it can't be built: the wheel then is for every machine."""
        if self.distribution.ext_modules and not self._can_build_kernel():
            sys.stderr.write("the compiled kernel is left out: it can't be built here\n")
            self.distribution.ext_modules = []
        super().finalize_options()

    def _can_build_kernel(self) -> bool:
        command = self.reinitialize_command("build_ext")
        command.ensure_finalized()
        kernel = Path(command.get_ext_fullpath(KERNEL.name))
        kernel.unlink(missing_ok=True)  # one that an earlier build left proves nothing
        command.run()
        built = kernel.is_file()
        self.distribution.have_run.pop("build_ext", None)
        return built


setup(
    ext_modules=[] if IS_FREE_THREADED else [KERNEL],
    cmdclass={"bdist_wheel": BuildWheel, "build_ext": BuildKernel, "build_py": BuildPackage},
    options={} if IS_FREE_THREADED else {"bdist_wheel": {"py_limited_api": "cp311"}},
)
