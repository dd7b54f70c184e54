"""The entry point: whatever happens, one line and an exit code, and no traceback."""

import errno
import os
import subprocess
import sys

import click
import pytest

from interlock.cli import app
from interlock.errors import InterlockError

ENDS = [
    pytest.param(KeyboardInterrupt(), "stopped by the user; no verdict", id="interrupt"),
    pytest.param(click.Abort(), "stopped by the user; no verdict", id="abort"),
    pytest.param(InterlockError("a.yaml: wrong; mend it"), "interlock: a.yaml: wrong; mend it", id="ours"),
    pytest.param(ZeroDivisionError("by zero"), "unforeseen ZeroDivisionError: by zero; no verdict", id="bug"),
    pytest.param(MemoryError(), "unforeseen MemoryError", id="memory"),
    pytest.param(
        OSError(errno.ENOSPC, "No space left"), "interlock: the output: No space left; no verdict", id="full"
    ),
    pytest.param(
        PermissionError(errno.EACCES, "Permission denied", "out/a.svg"),
        "interlock: out/a.svg: Permission denied; no verdict",
        id="rights",
    ),
    pytest.param(click.UsageError("name a bench"), "name a bench", id="usage"),
]


def ended(monkeypatch, error):
    """The exit code of `main` when the verb ends with this."""

    def raises(**_options):
        raise error

    monkeypatch.delenv("INTERLOCK_DEBUG", raising=False)
    monkeypatch.setattr(app.cli, "main", raises)
    with pytest.raises(SystemExit) as ending:
        app.main()
    return ending.value.code


@pytest.mark.parametrize(("error", "text"), ENDS)
def test_every_way_to_end_is_one_line_and_code_2(monkeypatch, capsys, error, text):
    assert ended(monkeypatch, error) == 2
    said = capsys.readouterr()
    assert text in said.err
    assert "Traceback" not in said.err
    assert said.out == ""


@pytest.mark.parametrize("code", [0, 1, 2, 3])
def test_a_verbs_own_code_is_the_programs(monkeypatch, code):
    assert ended(monkeypatch, click.exceptions.Exit(code)) == code


def test_with_the_variable_set_a_bug_shows_its_traceback(monkeypatch):
    def raises(**_options):
        raise ZeroDivisionError

    monkeypatch.setenv("INTERLOCK_DEBUG", "1")
    monkeypatch.setattr(app.cli, "main", raises)
    with pytest.raises(ZeroDivisionError):
        app.main()


@pytest.mark.parametrize(
    "arguments",
    [pytest.param(["check", "--schema"], id="json"), pytest.param(["verify", __file__], id="text")],
)
def test_a_reader_that_goes_away_gets_no_traceback_and_no_verdict(arguments):
    """The output of a verb into a pipe that nobody reads; 1 would say that something fails."""
    script = (
        f"import sys; sys.argv = {['interlock', *arguments]!r}; from interlock.cli.app import main; main()"
    )
    reading, writing = os.pipe()
    os.close(reading)
    with os.fdopen(writing, "wb") as nobody:
        run = subprocess.run(
            [sys.executable, "-c", script], stdout=nobody, stderr=subprocess.PIPE, check=False
        )
    assert run.returncode == 2
    assert b"Traceback" not in run.stderr
    assert b"Exception ignored" not in run.stderr
