"""SPIN (Debian package) explores the same states as the package and refutes the same rules by as many acts."""

from collections import defaultdict
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest
from chain_benches import EXPECTED, UNDER_FAULT, checked, sample, wrong
from chain_doors import doors
from needed import need
from promela import promela
from promela_many import HEADER, WHICH, Case, promela_many
from spin_run import SpinRun, spin_build, spin_run, spin_verify

from interlock.bench import load_bench
from interlock.chain import ir, reference
from interlock.chain.catalogue import properties
from interlock.chain.compile import compile_bench, waits
from interlock.chain.explore import Graph, explore
from interlock.chain.judge import judge
from interlock.chain.let_go import parted
from interlock.chain.observers import needed, observers
from interlock.chain.property import CanReach, NeverLasts, NeverOnSchedule, NeverStep, Property
from interlock.chain.reach import reach
from interlock.chain.requirement import Requirement
from interlock.chain.watched import watch
from interlock.verdict import Verdict

ROOT = Path(__file__).resolve().parents[2]
MANY = 10**6
SOUND = {"demo": lambda: load_bench(ROOT / "interlock" / "demo" / "bench.yaml"), "sample": sample}
NAMES = [*SOUND, *sorted({**EXPECTED, **UNDER_FAULT})]


@cache
def required(name: str) -> Requirement:
    bench = SOUND[name]() if name in SOUND else wrong(name)
    return Requirement(bench, compile_bench(bench))


@cache
def explored(name: str) -> Graph:
    return explore(required(name).compiled.chain, MANY)


def first_failure(name: str, needs: Requirement) -> Property:
    """The property that a wrong bench is expected to fail first."""
    first = EXPECTED[name]["first"]
    found = [
        one
        for one in properties(needs)
        if one.id == first["id"]
        and one.function == first.get("function")
        and first.get("subject") in {None, one.subject}
    ]
    return found[0]


def never(needs: Requirement, one: Property) -> tuple[ir.Term, tuple[ir.Observer, ...]] | None:
    """What no event may make true, and what must be remembered for it.

    A state that must not last may not be there once nothing that comes in time was due at some moment since its
    demand began, at that moment or at a later one of the same demand.
    """
    match one.claim:
        case NeverStep(culprits):
            return ir.any_of(culprits.values()), ()
        case NeverLasts(culprits, within_ns, during, begins):
            late = [event for event in needs.compiled.chain.events if event.kind is ir.EventKind.LATE]
            quick = [event for event in late if within_ns is None or event.delay_ns <= within_ns]
            bad, idle = ir.any_of(culprits.values()), ir.all_of(ir.no(waits(event)) for event in quick)
            if within_ns is None or during is None:
                return ir.all_of([bad, idle]), ()
            over = ir.Observer(
                ir.Field(
                    f"time after {one.id} of {one.function} and {one.subject}", ("runs", "over"), "runs"
                ),
                ((ir.no(during), "runs"), (idle, "over"), (begins, "runs")),
            )
            return ir.all_of([bad, ir.Now(over.field.name, frozenset({"over"}))]), (over,)
        case CanReach() | NeverOnSchedule():
            return None


def watching(needs: Requirement, one: Property, own: tuple[ir.Observer, ...]) -> tuple[ir.Observer, ...]:
    """What the rule remembers, and then its own memory of the time."""
    return (*needed(observers(needs), one.terms()), *own)


@cache
def where_it_fails(name: str) -> Requirement:
    """The wrong bench, or if it holds there, as somebody else finds it who acts just before another act ends."""
    needs = required(name)
    other = parted(needs)
    if other is None:
        return needs
    first = next(one for one in checked(name).properties if one.verdict is Verdict.FAIL)
    if not any(act.words.startswith("wait as long as it takes to ") for act in first.acts):
        return needs
    return Requirement(other, compile_bench(other))


def refuted() -> Iterator[tuple[str, Case]]:
    for name in sorted(EXPECTED):
        needs = where_it_fails(name)
        one = first_failure(name, needs)
        if (found := never(needs, one)) is not None:
            term, own = found
            yield name, Case(needs.compiled.chain, watching(needs, one, own), term)


def held() -> Iterator[tuple[str, Case]]:
    """All rules of the sound benches that speak of the same memories, together."""
    for name in SOUND:
        needs, terms = required(name), defaultdict(list)
        for one in properties(needs):
            if (found := never(needs, one)) is not None:
                term, own = found
                terms[watching(needs, one, own)].append(term)
        for memories, bad in terms.items():
            yield name, Case(needs.compiled.chain, memories, ir.any_of(bad))


STATES = [(name, Case(required(name).compiled.chain)) for name in NAMES]
REFUTED = list(refuted())
HELD = list(held())
CASES = [case for _, case in STATES] + [case for _, case in REFUTED] + [case for _, case in HELD]


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The verifier of all cases."""
    need("spin", "gcc")
    folder = tmp_path_factory.mktemp("spin")
    model, header = promela_many(CASES)
    spin_build(model, folder, {HEADER: header}, optimise="-O1")
    return folder


def verified(folder: Path, number: int) -> SpinRun:
    return spin_verify(folder, 16, {WHICH: str(number)})


@pytest.mark.parametrize("number", range(len(STATES)), ids=NAMES)
def test_spin_stores_as_many_states_as_are_explored(number: int, built: Path) -> None:
    chain = STATES[number][1].chain
    found = verified(built, number)
    assert found.depth is None
    assert found.states - 1 == len(explored(NAMES[number]).states) == reach(chain).states


@pytest.mark.parametrize("number", range(len(REFUTED)), ids=[name for name, _ in REFUTED])
def test_spin_refutes_what_a_wrong_bench_breaks_by_as_many_acts(number: int, built: Path) -> None:
    name, case = REFUTED[number]
    one = first_failure(name, where_it_fails(name))
    watched = watch(case.chain, explore(case.chain, MANY), case.observers, MANY)
    judged = judge(watched, case.chain.events, one)
    assert judged.verdict is Verdict.FAIL
    depth = verified(built, len(STATES) + number).depth
    assert depth is not None
    end = watched.unpack(watched.end(judged.way))
    if isinstance(one.claim, NeverStep) or reference.holds(case.never, end, end):
        assert depth == len(judged.way)
    else:  # a late reaction is still to come in the nearest such state, but too late; what lasts is no nearer
        assert depth >= len(judged.way)


@pytest.mark.parametrize(
    "number", range(len(HELD)), ids=[f"{name}-{len(case.observers)}" for name, case in HELD]
)
def test_spin_finds_nothing_against_a_sound_bench(number: int, built: Path) -> None:
    found = verified(built, len(STATES) + len(REFUTED) + number)
    assert found.depth is None
    name, case = HELD[number]
    assert found.states - 1 == len(watch(case.chain, explored(name), case.observers, MANY).state)


def test_most_rules_are_put_to_spin() -> None:
    assert len(REFUTED) >= 0.9 * len(EXPECTED)
    assert {name for name, _ in HELD} == set(SOUND)


def test_the_model_that_is_timed_has_the_same_states(tmp_path: Path) -> None:
    need("spin", "gcc")
    chain = compile_bench(doors(1, 1)).chain
    assert spin_run(promela(chain), tmp_path, table_bits=16).states == len(explore(chain, MANY).states)


def test_every_field_and_event_is_in_the_model() -> None:
    chain = compile_bench(sample()).chain
    model = promela(chain)
    start = reference.start(chain)
    for field in chain.fields:
        assert f"byte f_{field.name} = {field.values.index(start[field.name])};" in model
    assert model.count("d_step") == len(chain.events)


def test_a_term_about_the_past_is_refused() -> None:
    field = ir.Field("a", ("x", "y"), "x")
    step = ir.Step(frozenset({"x"}), ir.Was("a", frozenset({"x"})), "y")
    event = ir.Event("a", "go", ir.EventKind.ACT, (step,))
    chain = ir.Chain((field,), (), (event,))
    with pytest.raises(TypeError, match="more than the present"):
        promela(chain)
