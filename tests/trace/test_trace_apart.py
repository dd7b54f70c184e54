"""A call in a process of its own: what it gives comes back, and whatever it does, this process goes on."""

import os
import signal
import sys
import time

import numpy as np
import pytest

from interlock.errors import LogError
from interlock.trace.apart import Died, apart

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="processes are not copied here")


def crash() -> None:
    os.kill(os.getpid(), signal.SIGSEGV)


def wrong() -> None:
    raise LogError("a.mf4: no such block")


def stumble() -> None:
    raise ZeroDivisionError


@pytest.mark.parametrize("value", [3, None, "text", (1, [2])])
def test_what_the_call_gives_comes_back(value: object) -> None:
    assert apart(lambda: value, 20) == value


def test_much_comes_back_whole() -> None:
    wanted = np.arange(10**6)
    assert (apart(lambda: wanted, 20) == wanted).all()


def test_the_call_is_made_elsewhere() -> None:
    assert apart(os.getpid, 20) != os.getpid()


def test_an_error_of_a_log_is_raised_here() -> None:
    with pytest.raises(LogError, match=r"a\.mf4: no such block"):
        apart(wrong, 20)


def test_a_crash_is_told() -> None:
    with pytest.raises(Died, match=r"it crashed \(signal 11\)"):
        apart(crash, 20)


def test_a_call_that_stumbles_gives_no_answer() -> None:
    with pytest.raises(Died, match="no answer"):
        apart(stumble, 20)


def test_a_call_that_never_ends_is_ended() -> None:
    begun = time.monotonic()
    with pytest.raises(Died, match="did not end within 0 s"):
        apart(lambda: time.sleep(60), 0.2)
    assert time.monotonic() - begun < 20


def test_no_child_is_left() -> None:
    apart(lambda: 1, 20)
    with pytest.raises(ChildProcessError):
        os.waitpid(-1, os.WNOHANG)


def talk() -> str:
    print("what the library prints")
    sys.stdout.flush()
    os.write(1, b"to standard output")
    os.write(2, b"or to standard error")
    return "said"


def test_what_the_call_prints_does_not_stand_among_the_results(capfd: pytest.CaptureFixture[str]) -> None:
    assert apart(talk, 20) == "said"
    assert capfd.readouterr() == ("", "")


def eat() -> int:
    return len(np.ones(1 << 27).tolist())


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="memory is bounded so on Linux only")
def test_a_call_that_asks_for_more_memory_than_is_free_is_ended(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("interlock.trace.apart.room", lambda: 1 << 26)
    with pytest.raises(Died, match="no answer"):
        apart(eat, 20)
