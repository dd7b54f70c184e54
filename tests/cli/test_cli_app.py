"""The command as a whole: verbs, exit codes by DESIGN's table, errors that say what, where, what to do."""

import json
import subprocess
import sys
import time
from pathlib import Path

import pytest
from click.testing import CliRunner

from interlock.cli import app
from interlock.verdict import EXIT_CODE, Verdict

VERBS = ("demo", "look", "check", "plan", "replay", "rate", "report", "sign", "verify")


def test_help_lists_every_verb(interlock):
    said = interlock("--help")
    assert said.code == 0
    for verb in VERBS:
        assert f"\n  {verb}" in said.out


@pytest.mark.parametrize("verb", VERBS)
def test_every_verb_has_help_and_json(interlock, verb):
    said = interlock(verb, "--help")
    assert said.code == 0
    assert "--json" in said.out


@pytest.mark.parametrize("verb", VERBS)
def test_readme_names_every_verb(root, verb):
    assert f"interlock {verb}" in (root / "README.md").read_text()


def test_exit_codes_are_those_of_the_design():
    assert EXIT_CODE == {
        Verdict.PASS: 0,
        Verdict.FAIL: 1,
        Verdict.INCONCLUSIVE: 3,
        Verdict.NOT_OBSERVED: 3,
    }


@pytest.mark.parametrize(
    ("args", "says"),
    [
        (["nonsense"], "nonsense"),
        (["check"], "bench description"),
        (["replay", "x.yaml"], "LOG"),
        (["check", "--nonsense"], "nonsense"),
        (["sign", "x.pdf", "--role", "king"], "king"),
        (["sign", "x.pdf", "--role", "tester"], "--key"),
    ],
)
def test_bad_usage_is_exit_2_and_says_what(interlock, args, says):
    said = interlock(*args)
    assert said.code == 2
    assert says in said.err


@pytest.mark.parametrize(
    "args",
    [
        ["check", "absent.yaml"],
        ["replay", "absent.yaml", "absent.log"],
        ["report", "absent.yaml", "absent.log", "--out", "x.pdf"],
        ["sign", "absent.pdf", "--role", "tester", "--demo-key", "T"],
    ],
)
def test_absent_input_is_exit_2_and_names_the_file(interlock, tmp_path, monkeypatch, args):
    monkeypatch.chdir(tmp_path)
    said = interlock(*args)
    assert said.code == 2
    assert "absent." in said.err
    assert list(tmp_path.iterdir()) == []


def test_error_with_json_is_one_document_on_stdout(interlock, tmp_path):
    bench = tmp_path / "bench.yaml"
    bench.write_text("bench: {id: x}\nunknown: 1\n")
    said = interlock("check", bench, "--json")
    assert said.code == 2
    document = json.loads(said.out)
    assert document["schema"] == "interlock error 1"
    assert {"file", "line", "column", "what", "why", "instead"} == set(document["problems"][0])
    assert all(problem["file"] == str(bench) for problem in document["problems"])


def test_unforeseen_errors_show_no_traceback_and_are_no_verdict(interlock, monkeypatch):
    monkeypatch.setattr(app.cli, "main", lambda **_: 1 / 0)
    said = interlock("check")
    assert said.code == 2
    assert "ZeroDivisionError" in said.err
    assert "no verdict" in said.err


def test_unforeseen_errors_can_be_looked_into(monkeypatch):
    monkeypatch.setattr(app.cli, "main", lambda **_: 1 / 0)
    monkeypatch.setenv("INTERLOCK_DEBUG", "1")
    with pytest.raises(ZeroDivisionError):
        app.main()


def test_interrupt_is_no_verdict(interlock, monkeypatch):
    def stopped(**_):
        raise KeyboardInterrupt

    monkeypatch.setattr(app.cli, "main", stopped)
    said = interlock("check")
    assert said.code == 2
    assert "no verdict" in said.err


def test_unknown_verb_is_no_command():
    result = CliRunner().invoke(app.cli, ["nonsense"])
    assert result.exit_code == 2


def test_installed_command_starts_fast_and_alone(tmp_path: Path):
    """Heavy imports are deferred: help must not need numpy, reportlab or pyhanko."""
    code = (
        "import sys; from interlock.cli import main; sys.argv=['interlock','--help']\n"
        "try: main()\nexcept SystemExit: pass\n"
        "bad={'numpy','scipy','reportlab','pyhanko','can','cantools'} & set(sys.modules)\n"
        "print('BAD', sorted(bad))"
    )
    begun = time.monotonic()
    ran = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, cwd=tmp_path, check=True
    )
    assert "BAD []" in ran.stdout
    assert time.monotonic() - begun < 60  # a hang, not a speed test
