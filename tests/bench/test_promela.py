"""SPIN (Debian package) explores the same states as the package, on the demo, the sample and a wrong bench."""

from pathlib import Path

import pytest
from chain_doors import doors
from promela import promela
from spin_run import spin_missing, spin_run

from interlock.bench import load_bench
from interlock.chain import ir, reference
from interlock.chain.compile import compile_bench
from interlock.chain.explore import explore

ROOT = Path(__file__).resolve().parents[2]
WRONG = ROOT / "tests" / "benches" / "wrong"
BENCHES = {
    "demo": lambda: load_bench(ROOT / "interlock" / "demo" / "bench.yaml"),
    "sample": lambda: load_bench(ROOT / "tests" / "benches" / "sample" / "bench.yaml"),
    "doors": lambda: doors(1, 1),
    "wrong": lambda: load_bench(min(set(WRONG.glob("*.yaml")) - {WRONG / "expected.yaml"})),
}


@pytest.mark.skipif(bool(spin_missing()), reason=f"SPIN cannot run here: {spin_missing()}")
@pytest.mark.parametrize("name", BENCHES)
def test_spin_stores_as_many_states_as_are_explored(name, tmp_path):
    chain = compile_bench(BENCHES[name]()).chain
    graph = explore(chain, 10**6)
    assert graph.whole
    assert spin_run(promela(chain), tmp_path, table_bits=16).states == len(graph.states)


def test_every_field_and_event_is_in_the_model():
    chain = compile_bench(BENCHES["sample"]()).chain
    model = promela(chain)
    start = reference.start(chain)
    for field in chain.fields:
        assert f"byte f_{field.name} = {field.values.index(start[field.name])};" in model
    assert model.count("d_step") == len(chain.events)


def test_a_term_about_the_past_is_refused():
    field = ir.Field("a", ("x", "y"), "x")
    step = ir.Step(frozenset({"x"}), ir.Was("a", frozenset({"x"})), "y")
    event = ir.Event("a", "go", ir.EventKind.ACT, (step,))
    chain = ir.Chain((field,), (), (event,))
    with pytest.raises(TypeError, match="more than the present"):
        promela(chain)
