"""Small changes to a right bench: each that changes what it does is found, or is known to harm nobody.

The whole list for more benches: `python -m tests.mutants`.
"""

from collections import Counter
from functools import cache

import pytest
from mutants.mutate import changes, mutants
from mutants.right import RIGHT, small
from mutants.score import Fate, Mutated, fates, reasons, unexplained

from interlock.bench import Bench
from interlock.bench.expr import names, parse, render
from interlock.chain import check
from interlock.verdict import Verdict


@cache
def every() -> dict[str, Bench]:
    return dict(mutants(small()))


WHY = {
    pattern: why for pattern, why in reasons("small").items() if not pattern.startswith("setpoints\\.zero")
}


@cache
def judged() -> tuple[Mutated, ...]:
    """Those of a part of the bench; none of them shows under faults only."""
    return tuple(fates(small(), faults=False, only=("pump:", "k1:", "k1.", "setpoints:", "hood: no")))


def test_names_of_mutants_tell_them_apart() -> None:
    for name in RIGHT:
        made = [called for called, _ in mutants(RIGHT[name]())]
        assert len(made) > 100
        assert [called for called, number in Counter(made).items() if number > 1] == []


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("a.x", {"always", "never", "not a.x"}),
        ("not a.x", {"a.x", "not always", "not never"}),
        (
            "a.x and b.y",
            {"a.x or b.y", "always and b.y", "never and b.y", "not a.x and b.y", "a.x and always",
             "a.x and never", "a.x and not b.y"},
        ),
        ("always", {"never"}),
    ],
)  # fmt: skip
def test_what_is_changed(text: str, expected: set[str]) -> None:
    assert {render(one) for one in changes(parse(text))} == expected


def test_a_mutant_differs_in_one_place() -> None:
    right = small()
    for name, mutant in every().items():
        wires = [port for port, expr in right.wiring.items() if mutant.wiring[port] != expr]
        devices = [one for one, device in right.devices.items() if mutant.devices[one] != device]
        assert mutant.required == right.required
        if name.endswith("wherever it is wired"):
            assert devices == []
            assert all(name.split()[0] in names(right.wiring[port]) for port in wires)
        else:
            assert len(wires) + len(devices) == 1, name


def test_every_mutant_of_a_part_of_the_small_bench_is_found_or_harmless() -> None:
    assert list(unexplained(judged(), WHY)) == []


def test_most_are_found_by_a_property() -> None:
    count = Counter(one.fate for one in judged())
    assert sum(count.values()) > 100
    assert count[Fate.BROKEN] > 6 * count[Fate.ALIVE]


def test_a_living_mutant_without_a_reason_is_told() -> None:
    told = list(unexplained([Mutated("hood: melted", Fate.ALIVE)], {"halt: .*": "it cannot"}))
    assert told == ["hood: melted: 0 reasons", "halt: .*: no mutant is alive that it speaks of"]


def test_a_bench_that_does_not_pass_has_no_score() -> None:
    with pytest.raises(ValueError, match="does not pass"):
        fates(every()["pump.sto_a: always"])


def test_a_missing_feedback_is_found_under_faults() -> None:
    (found,) = fates(RIGHT["contactor_pair"](), only=["k1.feedback: always and q2.mirror"])
    assert (found.fate, found.by.partition(":")[0]) == (Fate.WEAKER, "k1.out_b_welds, q1.welds")


@pytest.mark.parametrize(
    ("mutant", "broken"),
    [
        ("k1.reset: not acknowledge.pressed", "reset_acts_on_release"),
        ("k1.channel_a: hood.a and always", "reset_restores"),
        ("pump.sto_a: always", "torque_off_inputs"),
        ("k1: armed to energised when reset (transition 6)", "reset_acts_on_release"),
        ("k1: closed to ready when not never (transition 4)", "stuck_reset"),
        ("pump: ready to running when always and supply (transition 4)", "reset_never_starts"),
    ],
)
def test_a_mutant_breaks_the_property_that_one_would_expect(mutant: str, broken: str) -> None:
    assert broken in [one.id for one in check(every()[mutant]).properties if one.verdict is Verdict.FAIL]
