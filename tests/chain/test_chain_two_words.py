"""Where one word does not suffice two do, with the same answers: states, edges, verdicts, faults, ways."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager

import pytest
from chain_benches import random_benches, sample, wrong
from chain_fault_benches import faulty_benches, small
from hypothesis import HealthCheck, assume, given, settings
from test_chain_explore import MANY, plainly, unpacked
from test_chain_fault_brute_force import searched
from test_chain_reach import met

from interlock.bench import Bench, load_bench
from interlock.chain import check, inputs, ir, layout
from interlock.chain.compile import compile_bench
from interlock.chain.explore import explore
from interlock.chain.fault_table import Explored
from interlock.chain.layout import Layout
from interlock.chain.reach import reach
from interlock.chain.reference import WiringLoop


@contextmanager
def narrow(bits: int) -> Iterator[None]:
    """Words so short that two are needed for so many bits, and suffice."""
    used = (bits + 1) // 2 + 2  # no field is wider than three bits
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(layout, "_USED", used)
        patch.setattr(inputs, "_MOST_BITS", used)
        yield


def bits_of(fields: Sequence[ir.Field]) -> int:
    return Layout(fields).bits


def same_states(chain: ir.Chain) -> None:
    with narrow(bits_of(chain.fields)):
        graph = explore(chain, MANY)
        assert graph.layout.columns == 2
        assert unpacked(graph) == plainly(chain)
        assert met(chain, by_bits=True) == met(chain, by_bits=False)
        assert reach(chain).states == len(graph.states)


@pytest.mark.parametrize("name", ["sample", "03_one_sto_input_bridged.yaml"])
def test_states_and_edges(name: str) -> None:
    same_states(compile_bench(sample() if name == "sample" else wrong(name)).chain)


@settings(max_examples=10)
@given(random_benches())
def test_states_and_edges_of_random_benches(bench: Bench) -> None:
    chain = compile_bench(bench).chain
    assume(bits_of(chain.fields) > 6)
    try:
        plainly(chain)
    except WiringLoop:
        with narrow(bits_of(chain.fields)), pytest.raises(WiringLoop):
            explore(chain, MANY)
        return
    same_states(chain)


@pytest.mark.parametrize(
    ("name", "faults"),
    [("03_one_sto_input_bridged.yaml", 1), ("18_contactor_slower_than_the_hand.yaml", 0)],
)
def test_a_whole_check(name: str, faults: int) -> None:
    """Verdicts, sentences and acts are those that one word gives, to the letter."""
    one = check(wrong(name), faults=faults)
    with narrow(bits_of(compile_bench(wrong(name)).chain.fields)):
        assert layout.Layout(compile_bench(wrong(name)).chain.fields).columns == 2
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(layout, "_USED", max(layout._USED, 16))  # what must be remembered needs room too
            assert check(wrong(name), faults=faults).as_json() == one.as_json()


def lost(explored: Explored) -> dict[object, dict[int, int]]:
    return {
        effect: {one: found.goal.level for one, found in sets.items()}
        for effect, sets in explored.lost.items()
    }


def same_faults(bench: Bench, most: int) -> None:
    """Same losses under the same sets, as soon; each goal has a way that is as long as its level says."""
    one = searched(bench, most)
    with narrow(one.ground.layout.bits):
        two = searched(bench, most)
        assert two.ground.layout.columns == 2
        assert lost(two) == lost(one)
        assert two.revealed == one.revealed
        assert {unit: set(sets) for unit, sets in two.restarted.items()} == {
            unit: set(sets) for unit, sets in one.restarted.items()
        }
        every = [found for sets in two.lost.values() for found in sets.values()]
        ways = two.search.ways(every)
        assert [len(ways[one]) - 1 for one in every] == [one.steps for one in every]


@pytest.mark.parametrize("most", [1, 2])
def test_faults(most: int) -> None:
    same_faults(small(), most)


@settings(max_examples=8, suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow])
@given(faulty_benches())
def test_faults_of_random_benches(bench: Bench) -> None:
    found = searched(bench, 1)
    assume(not found.restless.any())
    assume(found.ground.layout.bits > 6)
    same_faults(bench, 1)


def test_a_bench_with_more_than_63_bits_is_proved(tmp_path) -> None:
    """Forty relays side by side make no more states than one, but need 120 bits more."""
    import yaml
    from chain_benches import SAMPLE

    data = yaml.safe_load(SAMPLE.read_text("utf-8"))
    del data["shows"]
    narrow_bench = tmp_path / "one.yaml"
    narrow_bench.write_text(yaml.safe_dump(data, sort_keys=False), "utf-8")
    for number in range(16):
        data["devices"][f"relay{number}"] = {"kind": "safety_relay", "name": f"relay {number}"}
        for needed in ("channel_a", "channel_b", "reset"):
            data["wiring"][f"relay{number}.{needed}"] = data["wiring"][f"relay.{needed}"]
    wide_bench = tmp_path / "many.yaml"
    wide_bench.write_text(yaml.safe_dump(data, sort_keys=False), "utf-8")
    one, many = check(load_bench(narrow_bench)), check(load_bench(wide_bench))
    fields = compile_bench(load_bench(wide_bench)).chain.fields
    assert Layout(fields).bits > 63
    assert many.states == one.states
    assert [result.verdict for result in many.properties] == [result.verdict for result in one.properties]
