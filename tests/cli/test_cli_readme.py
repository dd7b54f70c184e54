"""The README is true: its first paragraph, its two commands, its table of verdicts."""

import re
import subprocess
from pathlib import Path

import pytest

from interlock.verdict import Verdict

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def readme() -> str:
    return (ROOT / "README.md").read_text()


def test_opens_with_the_job_in_one_paragraph(readme):
    first = readme.split("\n\n")[1]
    assert first.startswith("One person runs a motor test bench")
    assert "\n" not in first


def test_two_commands_each_on_one_line(readme):
    commands = re.findall(r"^    (python3 -m venv .*)$", readme, re.MULTILINE)
    assert commands == [
        "python3 -m venv .venv && .venv/bin/pip install -q . && .venv/bin/interlock demo",
        "python3 -m venv .venv && .venv/bin/pip install -q -e '.[test]' && .venv/bin/pytest -q",
    ]


def test_cautions_come_before_the_commands(readme):
    assert readme.index("can kill") < readme.index("python3 -m venv")
    assert readme.index("local codes and licensed practice") < readme.index("python3 -m venv")


@pytest.mark.parametrize("verdict", list(Verdict))
def test_each_verdict_is_explained(readme, verdict):
    assert f"| {str(verdict).replace('_', ' ')} |" in readme


def test_visible_top_level_is_exactly_this():
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False)
    if listed.returncode:  # an archive without a repository: look at the folder itself
        names = {path.name for path in ROOT.iterdir() if path.name != "build"}
    else:
        names = {line.split("/")[0] for line in listed.stdout.splitlines()}
    visible = {name for name in names if not name.startswith(".")}
    assert visible == {
        "README.md",
        "DEVELOPERS.md",
        "pyproject.toml",
        "interlock",
        "tests",
        "procedures",
        "reports",
    }
