"""Logs of the built-in bench, made once."""

from pathlib import Path

import pytest

from interlock.demo.walk import record


@pytest.fixture(scope="session")
def demo_log(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A sound proof test."""
    return record(tmp_path_factory.mktemp("demo") / "proof_test.log", None)


@pytest.fixture(scope="session")
def late_log(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A proof test of a bench whose brake loses its torque too late."""
    return record(tmp_path_factory.mktemp("late") / "late_brake.log", "SLOW_STO_LOAD")
