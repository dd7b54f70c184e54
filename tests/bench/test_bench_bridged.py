"""Units whose torque only their supply can take away, by their wiring and the inputs that their kind declares."""

from itertools import product
from pathlib import Path

import pytest

from interlock.bench import Bench, parse_bench
from interlock.bench.bridged import is_bridged

SAMPLE = Path(__file__).parents[1] / "benches" / "sample" / "bench.yaml"
LINES = ("drive.sto_a: relay.out_a", "drive.sto_b: relay.out_b")


def with_lines(*lines: str) -> Bench:
    """The sample bench with the drive unit's two lines so."""
    text = SAMPLE.read_text(encoding="utf-8")
    for old, new in zip(LINES, lines, strict=True):
        assert text.count(old) == 1
        text = text.replace(old, new)
    return parse_bench("bench.yaml", text)


@pytest.mark.parametrize(("first", "second"), list(product(("always", "relay.out_a", "never"), repeat=2)))
def test_it_is_bridged_only_if_every_line_always_carries_current(first: str, second: str) -> None:
    bench = with_lines(f"drive.sto_a: {first}", f"drive.sto_b: {second}")
    assert is_bridged(bench, "drive") is (first == second == "always")
    assert not is_bridged(bench, "load")  # which has its lines


def test_a_condition_that_is_always_true_is_a_wire_all_the_same() -> None:
    """Only what is written as a bridge counts as one: contacts and their negation are wired."""
    always_true = "relay.out_a or not relay.out_a"
    assert not is_bridged(with_lines(f"drive.sto_a: {always_true}", "drive.sto_b: always"), "drive")


@pytest.mark.parametrize("device", ["contactor", "relay", "cover"])
def test_what_has_no_such_inputs_is_not_bridged(device: str) -> None:
    assert not is_bridged(with_lines(*LINES), device)
