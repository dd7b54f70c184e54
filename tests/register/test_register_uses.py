"""From the lines of a register to plain counts: each counted once, withdrawn ones not, benches and devices apart."""

from datetime import date
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from register_lines import BENCH, OTHER, at, changed, counted, made, proof, replaced

from interlock.register import append, create, load_register
from interlock.register.entries import Withdrawn
from interlock.register.uses import uses


def entered(path: Path, *contents, bench=BENCH):
    create(path, now=at("2025-01-01"))
    for content in contents:
        append(path, bench, content, now=at("2026-12-31"))
    return load_register(path)


def test_counts_of_a_device_in_order_of_their_days(tmp_path):
    register = entered(
        tmp_path / "r.jsonl",
        counted("2025-06-01", "2025-09-01", 30, 3),
        counted("2025-01-02", "2025-06-01", 10, 1),
        counted("2025-01-02", "2025-06-01", 77, 0, device="k2"),
    )
    found = uses(register, "press_2")
    assert set(found) == {"k1", "k2"}
    assert [(one.operations, one.load_breaks, str(one.since)) for one in found["k1"].periods] == [
        (10, 1, "2025-01-02"),
        (30, 3, "2025-06-01"),
    ]
    assert found["k1"].source == "register r.jsonl, entries 1, 2"
    assert found["k2"].source == "register r.jsonl, entry 3"
    assert found["k1"].installed is None


def test_the_last_replacement_counts(tmp_path):
    register = entered(
        tmp_path / "r.jsonl",
        replaced("2025-06-01"),
        replaced("2025-03-01"),
        replaced("2025-09-01", device="k2"),
    )
    assert uses(register, "press_2")["k1"].installed == date(2025, 6, 1)
    assert uses(register, "press_2")["k1"].periods == ()


def test_what_was_withdrawn_counts_no_more(tmp_path):
    register = made(tmp_path / "r.jsonl")
    assert uses(register, "press_2")["k1"].tally("operations").count == 90  # not 100 + 90
    register = entered(
        tmp_path / "s.jsonl", replaced("2025-06-01"), Withdrawn(withdraws=1, reason="not done after all")
    )
    assert uses(register, "press_2") == {}


def test_benches_are_kept_apart(tmp_path):
    path = tmp_path / "r.jsonl"
    entered(path, counted("2025-01-02", "2025-06-01", 10))
    append(path, OTHER, counted("2025-01-02", "2025-06-01", 99), now=at("2026-12-31"))
    register = load_register(path)
    assert uses(register, "press_2")["k1"].tally("operations").count == 10
    assert uses(register, "press_3")["k1"].tally("operations").count == 99
    assert uses(register, "press_4") == {}


def test_tests_and_changes_are_no_counts(tmp_path):
    register = entered(tmp_path / "r.jsonl", proof("2025-03-01"), changed("2025-03-02"))
    assert uses(register, "press_2") == {}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("uses")


@settings(max_examples=15)
@given(
    st.lists(st.tuples(st.integers(1, 28), st.integers(0, 999), st.integers(0, 99)), min_size=1, max_size=4),
    st.data(),
)
def test_nothing_is_lost_or_counted_twice_in_whatever_order_it_is_entered(folder, parts, data):
    """Months one after the other, each with its own days and counts, entered in any order."""
    path = folder / "r.jsonl"
    path.unlink(missing_ok=True)
    contents = [
        counted(
            f"2025-{month:02}-01",
            f"2025-{month:02}-{day + 1:02}" if day < 28 else f"2025-{month + 1:02}-01",
            a,
            b,
        )
        for month, (day, a, b) in enumerate(parts, 1)
    ]
    register = entered(path, *data.draw(st.permutations(contents)))
    found = uses(register, "press_2")["k1"]
    assert found.tally("operations").count == sum(a for _, a, _ in parts)
    assert found.tally("load_breaks").count == sum(b for _, _, b in parts)
