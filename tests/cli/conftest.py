"""Logs of the built-in bench, made once."""

from datetime import UTC, datetime
from pathlib import Path

import pytest
from searched import searched_once

from interlock.demo.measuring import record

__all__ = ["searched_once"]  # used by every test

BEGUN = datetime(2027, 1, 15, 8, tzinfo=UTC)


@pytest.fixture(scope="session")
def demo_log(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A sound proof test."""
    return record(tmp_path_factory.mktemp("demo") / "proof_test.log", None, begun=BEGUN)


@pytest.fixture(scope="session")
def late_log(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A proof test of a bench whose brake loses its torque too late."""
    return record(tmp_path_factory.mktemp("late") / "late_brake.log", "SLOW_STO_LOAD", begun=BEGUN)
