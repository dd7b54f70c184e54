"""Plan, log, verdict: the derived plan walked on the twin passes the judge, and shows the twin's defects."""

from pathlib import Path

import pytest
from plan_walker import demo_plan, walked

from interlock.replay import Judgement
from interlock.twin import Defect
from interlock.verdict import Verdict

FAULT_OF = {
    Defect.CONTACTOR_WELDED: ("contactor.welds", "contactor_open"),
    Defect.BUS_KEPT: ("link.discharge_lost", "bus_discharged"),
    Defect.CHANNEL_2_STUCK: ("hood.b_stays_closed", "channels_agree"),
    Defect.RESET_STUCK: ("reset.stays_pressed", None),
    Defect.REFERENCES_KEPT: ("setpoints.zeroing_lost", "references_zero"),
}
"""Defects of the twin that are faults of the catalogue, and the effect that must fail (None: nothing to judge)."""


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Judgement:
    return walked(demo_plan(), tmp_path_factory.mktemp("sound"))


def test_the_walk_on_a_sound_bench_is_a_pass(sound: Judgement) -> None:
    assert [one.sentence for one in sound.findings if one.verdict is not Verdict.PASS] == []
    assert sound.verdict is Verdict.PASS


def test_its_log_exercises_every_function_with_one_demand_each(sound: Judgement) -> None:
    assert sorted(stop.name for stop in sound.stops if stop.demand is not None) == [
        "button_stop",
        "emergency_stop",
        "hood_stop",
    ]


@pytest.mark.parametrize("defect", FAULT_OF)
def test_a_fault_that_the_plan_reveals_is_no_pass(defect: Defect, tmp_path: Path) -> None:
    fault, effect = FAULT_OF[defect]
    assert fault in {one for step in demo_plan().steps for one in step.reveals}
    judgement = walked(demo_plan(), tmp_path, [defect])
    assert judgement.verdict is not Verdict.PASS
    if effect is not None:
        assert Verdict.FAIL in {one.verdict for one in judgement.findings if one.effect == effect}


@pytest.mark.parametrize(
    "defect",
    [
        Defect.RESET_ON_PRESS,
        Defect.RESET_DURING_DEMAND,
        Defect.SUPPLY_WHILE_LATCHED,
        Defect.TORQUE_ON_RESET,
    ],
)
def test_what_breaks_a_rule_of_the_bench_fails(defect: Defect, tmp_path: Path) -> None:
    assert walked(demo_plan(), tmp_path, [defect]).verdict is Verdict.FAIL
