"""Remembering only what is asked for changes no verdict, no way and no word."""

import pytest
from chain_benches import EXPECTED, sample, wrong

from interlock.bench import Bench
from interlock.chain import frontier as frontier_module
from interlock.chain import ir
from interlock.chain import reach as reach_module
from interlock.chain import views as views_module
from interlock.chain.catalogue import properties
from interlock.chain.compile import compile_bench
from interlock.chain.explore import explore
from interlock.chain.judge import judge
from interlock.chain.observers import needed, observers
from interlock.chain.requirement import Requirement
from interlock.chain.views import Views
from interlock.chain.watched import watch

MANY = 1_000_000


def required_of(bench: Bench) -> Requirement:
    return Requirement(bench, compile_bench(bench))


def events_of(required: Requirement, way: tuple[int, ...] | None, edges: list[int]) -> list[str] | None:
    if way is None:
        return None
    events = required.compiled.chain.events
    return [f"{events[edges[edge]].device}.{events[edges[edge]].trigger}" for edge in way]


@pytest.mark.parametrize("name", [None, *sorted(EXPECTED)[::5]])
def test_one_large_product_and_many_small_ones_agree(name: str | None) -> None:
    required = required_of(sample() if name is None else wrong(name))
    chain = required.compiled.chain
    large, views = watch(chain, explore(chain, MANY), observers(required), MANY), Views(required, MANY)
    for one in properties(required):
        small = views.of(one.terms())
        whole, part = judge(large, chain.events, one), judge(small, chain.events, one)
        assert (whole.verdict, whole.culprits) == (part.verdict, part.culprits)
        assert events_of(required, whole.way, large.event.tolist()) == events_of(
            required, part.way, small.event.tolist()
        )
        assert len(small.state) <= len(large.state)


def test_what_an_observer_looks_at_is_needed_too() -> None:
    required = required_of(sample())
    latch = ir.Now("latch of cover_stop", frozenset({"set"}))
    names = [observer.field.name for observer in needed(observers(required), [latch])]
    assert names == ["latch of cover_stop", "press of reset"]


def test_terms_about_devices_alone_need_no_memory() -> None:
    required = required_of(sample())
    assert needed(observers(required), [required.any_demand(), ir.TRUE]) == ()
    views = Views(required, MANY)
    assert len(views.of([required.any_demand()]).state) == len(views.graph.states)


def test_a_product_is_made_once() -> None:
    required = required_of(sample())
    views = Views(required, MANY)
    assert views.of([required.any_demand()]) is views.of([required.reset()])


def test_every_property_of_the_sample_remembers_little() -> None:
    required = required_of(sample())
    for one in properties(required):
        assert len(needed(observers(required), one.terms())) <= 4


def test_a_cut_product_is_noticed() -> None:
    required = required_of(sample())
    views = Views(required, 306)
    assert views.whole
    views.of([ir.Now("latch of cover_stop", frozenset({"set"}))])
    assert not views.whole


@pytest.mark.parametrize("short_by", [1, 100, 250])
def test_where_the_graph_falls_short_each_product_is_looked_at_near_power_up_only(
    monkeypatch: pytest.MonkeyPatch, short_by: int
) -> None:
    """Nothing passes any more, and a bench too big must not be searched as far again for each of its properties."""
    required = required_of(sample())
    whole = Views(required, MANY)
    limit = len(whole.graph.states) - short_by
    monkeypatch.setattr("interlock.chain.views._NEAR", 0)
    part = Views(required, limit)
    each = len(part.graph.source) // part.graph.expanded
    latches = [one.terms() for one in properties(required)]
    for terms in latches:
        found = part.of(terms)
        assert not found.whole
        assert found.expanded.sum() <= len(whole.of(terms).state)
        assert int(found.expanded.sum()) * each <= 2 * limit + each * 64  # the last block may go beyond
    assert not part.whole


def test_a_graph_that_is_whole_limits_no_product_further() -> None:
    required = required_of(sample())
    views = Views(required, MANY)
    assert all(views.of(one.terms()).whole for one in properties(required))


@pytest.mark.parametrize("name", [None, *sorted(EXPECTED)[3:6]])
def test_of_a_bench_known_to_be_too_large_only_what_is_looked_at_is_worked_out(
    name: str | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same verdicts and the same ways as of the graph that is worked out up to the limit."""
    required, told = required_of(sample() if name is None else wrong(name)), []
    limit = len(Views(required, MANY).graph.states) - 10
    monkeypatch.setattr(views_module, "_NEAR", 10)
    monkeypatch.setattr(frontier_module, "_BLOCK", 4)
    graphs = []
    for worth in (1 << 60, 0):  # states are words, or bits
        monkeypatch.setattr(reach_module, "_WORTH", worth)
        views = Views(required, limit)
        graphs.append(views.graph)
        assert not views.whole
        found = []
        for one in properties(required):
            watched = views.of(one.terms())
            judged = judge(watched, required.compiled.chain.events, one, lambda views=views: views.reached)
            found.append((one.id, judged.verdict, events_of(required, judged.way, watched.event.tolist())))
        told.append(found)
    assert told[0] == told[1]
    assert len(graphs[1].states) < len(graphs[0].states)


def test_a_bench_within_the_limit_is_worked_out_whole_however_its_states_are_counted(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    required = required_of(sample())
    words = Views(required, MANY).graph
    monkeypatch.setattr(reach_module, "_WORTH", 0)
    bits = Views(required, MANY)
    assert bits.whole
    assert bits.graph.states.tolist() == words.states.tolist()
    assert bits.reached.states == len(words.states)
