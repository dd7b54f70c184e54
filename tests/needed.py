"""Tools that some tests need: absent, such a test is skipped and says so; in CI it fails instead."""

import importlib
import os
import shutil
from typing import Any

import pytest

__all__ = ["absent", "need", "need_module"]


def need(*programs: str) -> None:
    """Skip the test, or fail it in CI, where one of the programs is not installed."""
    lacking = [name for name in programs if shutil.which(name) is None]
    if lacking:
        absent(f"{' and '.join(lacking)} not installed: this agreement is not tested")


def need_module(name: str) -> Any:
    """The module; skips all tests of the file, or fails in CI, where it is not installed."""
    try:
        return importlib.import_module(name)
    except ModuleNotFoundError:
        return absent(f"{name} not installed: this agreement is not tested")


def absent(why: str) -> None:
    """Skip the test, or the file that is being collected, with this reason; fail in CI."""
    if os.environ.get("CI", "").lower() in {"", "0", "false"}:
        pytest.skip(why, allow_module_level=True)
    pytest.fail(f"{why}, and in CI it must be", pytrace=False)
