"""What fits into a register and what does not: each refusal beside the like entry that is taken."""

from datetime import timedelta
from pathlib import Path

import pytest
from register_lines import BENCH, OTHER, at, changed, counted, proof, replaced

from interlock.errors import RegisterError
from interlock.register import Operations, Register, append, create, load_register
from interlock.register.entries import ContactorCount, LogCount, LogFile, Withdrawn


@pytest.fixture
def path(tmp_path: Path) -> Path:
    create(tmp_path / "r.jsonl", now=at("2025-01-01"))
    return tmp_path / "r.jsonl"


def enter(path: Path, content, bench=BENCH, day: str = "2026-12-31") -> Register:
    return append(path, bench, content, now=at(day))[0]


def withdrawn(number: int) -> Withdrawn:
    return Withdrawn(withdraws=number, reason="misread")


TAKEN = {
    "a count that begins where one ended": [
        counted("2025-01-02", "2025-03-01"),
        counted("2025-03-01", "2025-06-01"),
    ],
    "a count before another": [counted("2025-03-01", "2025-06-01"), counted("2025-01-02", "2025-03-01")],
    "the same days of another device": [
        counted("2025-01-02", "2025-03-01"),
        counted("2025-01-02", "2025-03-01", device="k2"),
    ],
    "a count anew after its withdrawal": [
        counted("2025-01-02", "2025-03-01"),
        withdrawn(1),
        counted("2025-01-02", "2025-03-01"),
    ],
    "a replacement at the end of a count": [
        counted("2025-01-02", "2025-03-01"),
        replaced("2025-03-01"),
        counted("2025-03-01", "2025-06-01"),
    ],
    "a count of another device across it": [
        replaced("2025-03-01"),
        counted("2025-01-02", "2025-06-01", device="k2"),
    ],
    "two tests of one day": [proof("2025-03-01", "a.log"), proof("2025-03-01", "b.log")],
    "a log anew after its withdrawal": [proof("2025-03-01"), withdrawn(1), proof("2025-03-01")],
    "a replacement anew after its withdrawal": [replaced("2025-03-01"), withdrawn(1), replaced("2025-03-01")],
    "two changes of one day": [changed("2025-03-01"), changed("2025-03-01")],
}


@pytest.mark.parametrize("name", TAKEN)
def test_taken(path, name):
    for content in TAKEN[name]:
        enter(path, content)
    assert len(load_register(path).entries) == len(TAKEN[name])


REFUSED = {
    "days counted twice": (
        [counted("2025-01-02", "2025-03-01")],
        counted("2025-02-28", "2025-06-01"),
        "count days twice",
    ),
    "a count within another": (
        [counted("2025-01-02", "2025-06-01")],
        counted("2025-02-01", "2025-03-01"),
        "withdraw entry 1",
    ),
    "a count around another": (
        [counted("2025-02-01", "2025-03-01")],
        counted("2025-01-02", "2025-06-01"),
        "in entry 1",
    ),
    "the same count twice": (
        [counted("2025-02-01", "2025-03-01")],
        counted("2025-02-01", "2025-03-01"),
        "twice",
    ),
    "a count across a replacement": (
        [replaced("2025-03-01")],
        counted("2025-01-02", "2025-06-01"),
        "one count until that day",
    ),
    "a replacement within a count": (
        [counted("2025-01-02", "2025-06-01")],
        replaced("2025-03-01"),
        "withdraw that entry",
    ),
    "a replacement twice": (
        [replaced("2025-03-01")],
        replaced("2025-03-01"),
        "replaced on that day already, by entry 1",
    ),
    "a log twice": ([proof("2025-03-01")], proof("2025-03-02"), "one run is one test"),
    "a withdrawal of nothing": ([], withdrawn(1), "there is no entry 1"),
    "a withdrawal of what is to come": (
        [changed("2025-03-01")],
        withdrawn(2),
        "there is no entry 2 to withdraw",
    ),
    "a withdrawal twice": (
        [changed("2025-03-01"), withdrawn(1)],
        withdrawn(1),
        "withdrawn before, by entry 2",
    ),
    "a withdrawal of a withdrawal": (
        [changed("2025-03-01"), withdrawn(1)],
        withdrawn(2),
        "enter the withdrawn line anew",
    ),
    "a test to come": ([], proof("2027-01-02"), "the test's day 2027-01-02 is still to come"),
    "a count to come": ([], counted("2026-01-01", "2027-06-01"), "still to come"),
    "a replacement to come": ([], replaced("2027-06-01"), "still to come"),
    "a change to come": ([], changed("2027-06-01"), "still to come"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_refused(path, name):
    before, wrong, says = REFUSED[name]
    for content in before:
        enter(path, content)
    with pytest.raises(RegisterError) as error:
        enter(path, wrong)
    assert says in str(error.value)
    assert str(error.value).startswith(f"{path}: ")
    assert len(load_register(path).entries) == len(before)


def logged(day: str, openings: int, under_load: int, demands: int = 0):
    """A test in whose log the contactor k1 was seen to open, and the cover k2 to demand a stop."""
    contactor = ContactorCount(openings=openings, under_load=under_load, doubtful=0, whole=True)
    return proof(
        day, f"{day}.log", counts=LogCount(demands={"k2": demands}, whole=True, contactors={"k1": contactor})
    )


@pytest.mark.parametrize(
    ("device", "operations", "load_breaks", "says"),
    [
        ("k1", 10, 3, None),
        ("k1", 2, 3, None),  # as many as the logs show: 5 openings, 3 of them under load
        ("k1", 10, 2, "show k1 break its load 3 time(s), more than 2"),
        ("k1", 1, 3, "show 5 operation(s) of k1, more than 4 in all"),
        ("k2", 7, 0, None),
        ("k2", 6, 0, "show 7 operation(s) of k2, more than 6 in all"),
        ("k3", 0, 0, None),  # no log shows it
    ],
)
def test_a_count_below_what_the_logs_of_its_days_show_is_wrong(path, device, operations, load_breaks, says):
    for one in (logged("2025-02-01", 2, 1, 3), logged("2025-03-01", 3, 2, 4)):
        enter(path, one)
    for edge in (logged("2025-01-02", 99, 99, 99), logged("2025-06-01", 99, 99, 99)):
        enter(path, edge)  # on the days of the readings: before or after them, nobody knows
    count = counted("2025-01-02", "2025-06-01", operations, load_breaks, device=device)
    if says is None:
        enter(path, count)
        return
    with pytest.raises(RegisterError, match=r"between 2025-01-02 and 2025-06-01 \(entries 1, 2\)") as error:
        enter(path, count)
    assert says in str(error.value)


def test_a_test_is_kept_even_if_a_count_was_too_low(path):
    enter(path, counted("2025-01-02", "2025-06-01", 0, 0))
    enter(path, logged("2025-02-01", 2, 1))


def test_benches_do_not_disturb_each_other(path):
    enter(path, counted("2025-01-02", "2025-03-01"))
    enter(path, counted("2025-01-02", "2025-03-01"), OTHER)
    enter(path, replaced("2025-02-01"), BENCH.model_copy(update={"id": "press_4"}))
    with pytest.raises(RegisterError, match="entry 2 is of bench press_3, not of press_2"):
        enter(path, withdrawn(2))


def test_a_later_description_of_the_same_bench_is_the_same_bench(path):
    enter(path, counted("2025-01-02", "2025-03-01"))
    with pytest.raises(RegisterError, match="twice"):
        enter(path, counted("2025-01-02", "2025-03-01"), BENCH.model_copy(update={"fingerprint": "c" * 64}))


def test_the_day_east_of_here_may_be_a_day_further(path):
    enter(path, changed("2026-01-02"), day="2026-01-01")
    with pytest.raises(RegisterError, match="still to come"):
        enter(path, changed("2026-01-03"), day="2026-01-01")


def test_the_clock_does_not_run_backwards(path):
    enter(path, changed("2025-03-01"), day="2025-03-02")
    with pytest.raises(RegisterError, match="set the clock"):
        enter(path, changed("2025-03-01"), day="2025-03-01")
    with pytest.raises(RegisterError, match="set the clock"):
        append(path, BENCH, changed("2024-03-01"), now=at("2024-03-01"))


@pytest.mark.parametrize(("minutes", "taken"), [(0, True), (10, True), (11, False)])
def test_two_clocks_may_differ_by_minutes(path, minutes, taken):
    """A writer that waited for another one, or sits at another computer, is not refused for it."""
    enter(path, changed("2025-03-01"))
    now = at("2026-12-31") - timedelta(minutes=minutes)
    if taken:
        append(path, BENCH, changed("2025-03-01"), now=now)
        return
    with pytest.raises(RegisterError, match="set the clock"):
        append(path, BENCH, changed("2025-03-01"), now=now)


def test_one_log_given_twice_is_no_test_of_two(path):
    logs = (LogFile(name="a", sha256="1" * 64), LogFile(name="b", sha256="1" * 64))
    with pytest.raises(RegisterError, match="give each file once"):
        enter(path, proof("2025-03-01", logs=logs))


def test_a_count_takes_a_day_at_least():
    with pytest.raises(ValueError, match="the second day must be later"):
        counted("2025-03-01", "2025-03-01")
    with pytest.raises(ValueError, match="greater than or equal to 0"):
        counted("2025-03-01", "2025-03-02", operations=-1)
    with pytest.raises(ValueError, match="valid integer"):
        Operations(**{**counted("2025-03-01", "2025-03-02").model_dump(), "load_breaks": True})
