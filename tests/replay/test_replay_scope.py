"""Logs of a bench that asks for what replay does not know are refused, never judged by half."""

from pathlib import Path

import pytest

from interlock.bench import load_bench
from interlock.errors import InterlockError
from interlock.replay.scope import refuse_unjudged

BENCHES = Path(__file__).parents[1] / "benches"

REFUSED = {
    "set_up_mode": ["modes (required.modes)", "required.functions.enabling_stop.without_reset"],
    "two_zones": ["required.functions.east_stop.units", "required.functions.west_stop.reset_by"],
    "ramp_beside_sto": ["required.effects.torque_off.limits", "required.functions.emergency_stop.limits"],
    "flow_switch": ["required.functions.water_stop.limits"],
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_not_known_is_named_entry_by_entry(name: str) -> None:
    with pytest.raises(InterlockError) as refused:
        refuse_unjudged(load_bench(BENCHES / "shapes" / f"{name}.yaml"))
    said = str(refused.value)
    assert all(entry in said for entry in REFUSED[name])
    assert "interlock check" in said


@pytest.mark.parametrize("name", ["three_doors", "stop_category_1", "cable_to_the_guard"])
def test_any_other_bench_is_let_through(name: str) -> None:
    refuse_unjudged(load_bench(BENCHES / "shapes" / f"{name}.yaml"))
    refuse_unjudged(load_bench(BENCHES / "sample" / "bench.yaml"))
