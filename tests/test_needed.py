"""A tool that is absent skips a test loudly, and fails it in CI."""

import pytest
from needed import need, need_module

ABSENT = "no-such-program"


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
    with pytest.raises(pytest.fail.Exception, match=f"{ABSENT} not installed.*in CI it must be"):
        need("sh", ABSENT)
    with pytest.raises(pytest.fail.Exception, match="no_such_module not installed"):
        need_module("no_such_module")


def test_what_is_there_is_given(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CI", "true")
    need("sh")
    assert need_module("json").loads("1") == 1
