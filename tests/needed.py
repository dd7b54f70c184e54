"""Tools that some tests need: absent, such a test is skipped and says so; in CI it fails instead.

What only an extra of this package brings is absent from the README's test command by intention; the stage of CI that
installs the extras sets INTERLOCK_EXTRAS, and there its absence fails too.
"""

import importlib
import os
import shutil
from typing import Any

import pytest

__all__ = ["absent", "need", "need_extra", "need_module"]


def need(*programs: str) -> None:
    """Skip the test, or fail it in CI, where one of the programs is not installed."""
    lacking = [name for name in programs if shutil.which(name) is None]
    if lacking:
        absent(f"{' and '.join(lacking)} not installed: this agreement is not tested")


def need_module(name: str) -> Any:
    """The module; skips all tests of the file, or fails in CI, where it is not installed."""
    return _module(name, "CI")


def need_extra(name: str) -> Any:
    """The module of an extra; skips the test, or fails it where the extras are tested, if it is not installed."""
    return _module(name, "INTERLOCK_EXTRAS")


def _module(name: str, where: str) -> Any:
    try:
        return importlib.import_module(name)
    except ModuleNotFoundError as error:
        if error.name != name:  # it is there, and lacks something itself
            raise
        return absent(f"{name} not installed: this agreement is not tested", where)


def absent(why: str, where: str = "CI") -> None:
    """Skip the test, or the file that is being collected, with this reason; fail where this variable is set."""
    if os.environ.get(where, "").lower() in {"", "0", "false"}:
        pytest.skip(why, allow_module_level=True)
    pytest.fail(f"{why}, and with {where} set it must be", pytrace=False)
