"""A tool that is absent skips a test loudly, and fails it in CI; no test that needs an extra is left out there."""

import importlib.metadata
import os
import re
import shlex
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from needed import absent, need, need_extra, need_module

from interlock.trace import kernel_compiler

ABSENT = "no-such-program"
TESTS = Path(__file__).parent
ROOT = TESTS.parent
EXTRAS = {"asammdf", "isal", "numba"}
"""What the extras `mf4` and `fast` bring; `canopen` is also in `test`."""


@pytest.mark.parametrize("value", [None, "", "0", "false", "False"])
def test_absent_is_skipped_with_the_reason(value: str | None, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("CI", raising=False)
    if value is not None:
        monkeypatch.setenv("CI", value)
    with pytest.raises(pytest.skip.Exception, match=f"{ABSENT} not installed: this agreement is not tested"):
        need("sh", ABSENT)
    with pytest.raises(pytest.skip.Exception, match="no_such_module not installed"):
        need_module("no_such_module")


@pytest.mark.parametrize("value", ["true", "1"])
def test_absent_fails_in_ci(value: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CI", value)
    with pytest.raises(pytest.fail.Exception, match=f"{ABSENT} not installed.*with CI set it must be"):
        need("sh", ABSENT)
    with pytest.raises(pytest.fail.Exception, match=r"no_such_module not installed.*with CI set it must be"):
        need_module("no_such_module")


@pytest.mark.parametrize(("value", "fails"), [("", False), ("false", False), ("true", True)])
def test_an_extra_must_be_there_only_where_the_extras_are_tested(
    value: str, fails: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The README's test command installs none of them, in CI either."""
    monkeypatch.setenv("CI", "true")
    monkeypatch.setenv("INTERLOCK_EXTRAS", value)
    ends = pytest.fail.Exception if fails else pytest.skip.Exception
    with pytest.raises(ends, match="no_such_module not installed: this agreement is not tested"):
        need_extra("no_such_module")


def test_what_is_there_is_given(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CI", "true")
    monkeypatch.setenv("INTERLOCK_EXTRAS", "true")
    need("sh")
    assert need_module("json").loads("1") == 1
    assert need_extra("json").loads("2") == 2


def test_a_module_that_is_there_and_cannot_be_loaded_is_no_absent_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "half_a_module.py").write_text("import no_such_part\n")
    monkeypatch.syspath_prepend(tmp_path)
    with pytest.raises(ModuleNotFoundError, match="no_such_part"):
        need_module("half_a_module")
    assert "half_a_module" not in sys.modules


@pytest.mark.parametrize("name", sorted(EXTRAS))
def test_the_extras_are_installed_where_they_are_tested(name: str) -> None:
    need_extra(name)
    if name == "numba":
        assert kernel_compiler.COMPILER is not None


def test_the_extras_are_those_of_the_package() -> None:
    """A new extra must be tested somewhere: by the README's command, or where the extras are installed."""
    extras = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["optional-dependencies"]
    named = {one: {re.split("[<>=]", line)[0] for line in lines} for one, lines in extras.items()}
    tested = named.pop("test") | EXTRAS
    assert set().union(*named.values()) <= tested
    assert set().union(*named.values()) >= EXTRAS


def test_ci_installs_the_extras_and_runs_each_test_that_asks_for_one() -> None:
    script = (ROOT / ".ci" / "run").read_text()
    stage = script[script.index("extras() {") :].split("\n}\n")[0]
    install = re.search(r"install (\S+)", stage)
    assert install is not None
    assert {"test", "fast", "mf4"} <= set(install[1].split(","))
    search = re.search(r"\$\((grep .*)\)", stage)
    assert search is not None
    assert stage.endswith('pytest" -q tests/trace tests/look $asking')
    found = subprocess.run(shlex.split(search[1]), cwd=ROOT, capture_output=True, text=True, check=True)
    asking = {
        path.relative_to(ROOT) for path in TESTS.rglob("test_*.py") if "need_extra(" in path.read_text()
    }
    assert {Path(line) for line in found.stdout.splitlines()} == asking
    assert len(asking) > 4


def test_no_test_skips_by_itself_what_is_not_installed() -> None:
    """Such a skip would stay one in CI."""
    by_itself = re.compile(r"importorskip|find_spec\(|which\(.*is None, reason")
    files = [file for file in TESTS.rglob("test_*.py") if file != Path(__file__)]
    assert [file.name for file in files if by_itself.search(file.read_text(encoding="utf-8"))] == []


def test_ci_installs_nothing_without_a_stated_version() -> None:
    if not os.environ.get("INTERLOCK_EXTRAS"):
        absent(
            "all packages of CI not installed: the list of their versions is not tested", "INTERLOCK_EXTRAS"
        )
    pinned = dict(line.split("==") for line in (ROOT / ".ci" / "lock.txt").read_text().split())
    stated = {_plain(name): version for name, version in pinned.items()}
    there = {_plain(one.metadata["Name"]): one.version for one in importlib.metadata.distributions()}
    assert {name: one for name, one in there.items() if stated.get(name) != one} == {
        name: there[name] for name in ("interlock", "pip", "setuptools") if name in there
    }


def _plain(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()
