"""What does not fit: said with its bound, never passed for whole, and what was proved all the same is right."""

import re

import pytest
from chain_benches import EXPECTED, sample, wrong

from interlock.chain import check, clock, ir, reference
from interlock.chain.catalogue import properties
from interlock.chain.compile import compile_bench
from interlock.chain.explore import explore
from interlock.chain.property import NeverLasts
from interlock.chain.reach import reach
from interlock.chain.requirement import Requirement
from interlock.chain.views import Views
from interlock.verdict import Verdict

MANY = 1_000_000
CHAIN = compile_bench(sample()).chain


@pytest.mark.parametrize(
    ("limit", "most_bytes", "why"), [(20, None, "20 situations"), (MANY, 1 << 16, "0.0625 MiB of memory")]
)
def test_a_search_that_ended_early_says_at_what(limit: int, most_bytes: int | None, why: str) -> None:
    whole, part = explore(CHAIN, MANY), explore(CHAIN, limit, most_bytes)
    assert (whole.shortfall, part.shortfall) == ("", why)
    assert not part.whole
    assert 20 < len(part.states) < len(whole.states)
    assert part.states.tolist() == whole.states[: len(part.states)].tolist()


def test_memory_that_is_just_enough_leaves_nothing_out() -> None:
    whole = explore(CHAIN, MANY)
    assert explore(CHAIN, MANY, most_bytes=48 * len(whole.source) + 40 * len(whole.states)).whole


def test_a_product_that_ended_early_says_at_what() -> None:
    needs = Requirement(sample(), compile_bench(sample()))
    views = Views(needs, MANY, most_bytes=1 << 20)
    assert views.graph.whole
    terms = [term for one in properties(needs) for term in one.terms()]
    assert views.of(terms).shortfall == "0.375 MiB of memory"
    assert not views.whole


def test_products_that_do_not_fit_together_are_worked_out_again() -> None:
    needs = Requirement(sample(), compile_bench(sample()))
    tight, roomy = Views(needs, MANY, most_bytes=16 << 20), Views(needs, MANY)
    tight._kept = 0
    for one in [*properties(needs), *properties(needs)]:
        mine, other = tight.of(one.terms()), roomy.of(one.terms())
        assert mine.memory.tolist() == other.memory.tolist()
        assert mine.source.tolist() == other.source.tolist()
    assert len(tight._views) == 1 < len(roomy._views)


def test_a_bench_too_large_for_its_graph_is_still_proved_where_states_alone_suffice() -> None:
    whole = check(sample())
    limit = whole.states - 10
    part = check(sample(), limit=limit)
    assert not part.whole
    assert part.verdict is Verdict.INCONCLUSIVE
    proved = [one for one in part.properties if one.verdict is Verdict.PASS]
    assert {"torque_off", "torque_off_inputs"} == {one.id for one in proved}
    said = f"Holds in each of the {whole.states:,} situations that the bench can get into."
    assert {one.sentence for one in proved} == {said}
    rest = [one.sentence for one in part.properties if one.verdict is Verdict.INCONCLUSIVE]
    assert rest
    for sentence in rest:
        assert re.fullmatch(
            r"Not verified: (no violation was found in the [\d,]+ situations that were looked at|whether it stays "
            r"possible can be told only where every situation is looked at, and [\d,]+ were)\. These are all that the "
            r"bench can get into within \d+ steps \(acts and late reactions\) from power-up, and some beyond\. It can "
            rf"get into more, and nothing is known of those: the search is given up beyond {limit} situations\.",
            sentence,
        ), sentence
    goals = [one for one in rest if "whether it stays possible" in one]
    assert 0 < len(goals) < len(rest)


@pytest.mark.parametrize("limit", [1, 2, 5, 20, 60, 150])
def test_the_steps_that_are_told_are_those_that_were_looked_at_wholly(limit: int) -> None:
    """By the plain interpreter: nothing within so many steps is missing, and one step later something is."""
    needs = Requirement(sample(), compile_bench(sample()))
    near = Views(needs, limit).of([ir.TRUE])
    met = {tuple(near.unpack(node).items()) for node in range(len(near.state))}
    level = known = {tuple(reference.start(CHAIN).items())}
    for _ in range(near.steps):
        level = {
            tuple(to.items()) for one in level for _, to in reference.successors(CHAIN, dict(one))
        } - known
        known = known | level
    assert known <= met
    assert not {tuple(to.items()) for one in level for _, to in reference.successors(CHAIN, dict(one))} <= met


def test_times_that_were_not_looked_at_to_the_end_are_told_though_every_situation_was(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(clock, "_MOST", 0)
    part = check(sample())
    assert part.whole
    rest = {one.id: one.sentence for one in part.properties if one.verdict is Verdict.INCONCLUSIVE}
    assert "contactor_open" in rest
    for sentence in rest.values():
        assert re.fullmatch(
            r"Not verified: no violation was found in any of the [\d,]+ situations that the bench can get into, but "
            r"the moments at which late reactions may come there were too many to look at all of them\.",
            sentence,
        ), sentence


@pytest.mark.parametrize("limit", [0, 10, 60])
@pytest.mark.parametrize("name", sorted(EXPECTED)[:12])
def test_a_search_that_ended_early_never_says_otherwise_than_a_whole_one(name: str, limit: int) -> None:
    whole = {(one.id, one.function, one.subject): one.verdict for one in check(wrong(name)).properties}
    for one in check(wrong(name), limit=limit).properties:
        if one.verdict is not Verdict.INCONCLUSIVE:
            assert whole[one.id, one.function, one.subject] is one.verdict, one.id


@pytest.mark.parametrize("by_bits", [True, False], ids=["bits", "words"])
def test_what_states_show_is_what_the_graph_shows(by_bits: bool) -> None:
    needs = Requirement(sample(), compile_bench(sample()))
    chain = needs.compiled.chain
    found, nodes = reach(chain, by_bits=by_bits), Views(needs, MANY).of([ir.TRUE])
    terms = [ir.TRUE, ir.FALSE, *needs.compiled.outputs.values(), *needs.compiled.inputs.values()]
    terms += [ir.no(term) for term in terms]
    for one in properties(needs):
        if isinstance(one.claim, NeverLasts):
            terms += [term for term in one.claim.culprits.values() if _of_devices(term, chain)]
    for term in terms:
        assert found.shows(term) == bool(nodes.nodes_where(term).any()), term


def test_a_term_about_an_event_is_refused() -> None:
    for by_bits in (True, False):
        with pytest.raises(TypeError, match="more than the present"):
            reach(CHAIN, by_bits=by_bits).shows(ir.By(frozenset({0})))


def _of_devices(term: ir.Term, chain: ir.Chain) -> bool:
    names = {field.name for field in chain.fields}
    return all(isinstance(atom, ir.Now) and atom.field in names for atom in ir.atoms(term))
