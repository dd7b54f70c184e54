"""What many tests share: the folders, the command line run in this process, laws without a time limit."""

import os
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest
from hypothesis import settings

# A busy machine must not fail a law. INTERLOCK_DEEP=1 looks far longer than the suite of every day.
settings.register_profile("any machine", deadline=None, max_examples=50)
settings.register_profile("deep", deadline=None, max_examples=1000)
settings.load_profile("deep" if os.environ.get("INTERLOCK_DEEP") else "any machine")

ROOT = Path(__file__).resolve().parents[1]


@dataclass(frozen=True)
class Said:
    """What a command answered."""

    code: int
    out: str
    err: str


@pytest.fixture
def interlock(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Callable[..., Said]:
    """Run `interlock ARGS...` through its own entry point; asserts that no traceback reached the user."""
    from interlock.cli import main

    def run(*args: object) -> Said:
        monkeypatch.setattr(sys, "argv", ["interlock", *map(str, args)])
        capsys.readouterr()
        with pytest.raises(SystemExit) as end:
            main()
        captured = capsys.readouterr()
        assert "Traceback" not in captured.out + captured.err
        assert isinstance(end.value.code, int)
        return Said(end.value.code, captured.out, captured.err)

    return run


@pytest.fixture(scope="session")
def root() -> Path:
    """The checkout."""
    return ROOT
