"""A second generator's logs, with the truth: sound ones pass, each defect is refused for its own reason.

The generator (tests/loggen) shares nothing with the package: events and closed-form curves, written as a candump log.
"""

from pathlib import Path
from typing import Any

import loggen
import pytest
from replay_tape import judged

from interlock.replay import Judgement
from interlock.verdict import Verdict

FUNCTION = {"cover": "cover_stop", "button": "button_stop", "emergency": "emergency_stop"}
KEY = {
    "drive": "drive_latency_s",
    "load": "load_latency_s",
    "contactor": "contactor_s",
    "references": "references_s",
}
EFFECT = {
    "drive": "torque_off",
    "load": "torque_off",
    "contactor": "contactor_open",
    "references": "references_zero",
}
WIDEST_NS = {"drive": 60e6, "load": 60e6, "contactor": 60e6, "references": 100e6}
"""What single lost frames explain; references come every 20 ms only."""

STAMPED_LATE = {"late_stamps"}  # its stamps break the stated delay, so no interval can hold the truth
NOT_FOR_GOOD = {  # something came back, or stayed: the latency is that of going for good
    *("torque_on_release", "reset_stuck_acts", "supply_on_release", "supply_while_latched"),
    *("pulse_during_demand", "pulse_at_release", "refs_kept", "speed_ref_kept", "torque_ref_kept"),
}


def latencies(said: Judgement, truth: dict[str, Any]) -> list[str]:
    """Where an interval is missing, misses the truth, or is wider than the sampling explains."""
    wrong = []
    for demand in truth["demands"]:
        onset = round((demand["demand_s"] - truth["first_frame_s"]) * 1e9)
        for subject, key in KEY.items():
            if demand.get(key) is None:
                continue
            shown = [
                one.latency
                for one in said.findings
                if (one.subject, one.effect, one.function)
                == (subject, EFFECT[subject], FUNCTION[demand["what"]])
                and one.demand is not None
                and onset in one.demand
            ]
            if len(shown) != 1 or shown[0] is None:
                wrong.append(f"{demand['what']} {subject}: {len(shown)} findings")
            elif round(demand[key] * 1e9) not in shown[0]:
                wrong.append(f"{demand['what']} {subject}: {demand[key]} s is not in {shown[0]}")
            elif shown[0].hi is not None and shown[0].hi - shown[0].lo > WIDEST_NS[subject]:
                wrong.append(f"{demand['what']} {subject}: {shown[0]} is too wide")
    return wrong


SOUND: list[dict[str, Any]] = [
    {},
    {"rpm": 300.0},
    {"rpm": 1500.0},
    {"stamp_s": 0.004},
    {"stamp_s": 0.002, "rpm": 700.0},
    {"loss": 0.02},
    {"stamp_s": 0.004, "loss": 0.02, "rpm": 1500.0},
]


@pytest.mark.parametrize(("seed", "how"), list(enumerate(SOUND, 20)), ids=str)
def test_sound_logs_pass_and_their_intervals_hold_the_truth(
    seed: int, how: dict[str, Any], tmp_path: Path
) -> None:
    text, truth = loggen.make(seed, **how)
    said = judged(text, tmp_path)
    assert said.verdict is Verdict.PASS, [
        one.sentence for one in said.findings if one.verdict is not Verdict.PASS
    ]
    assert latencies(said, truth) == []


@pytest.mark.parametrize("defect", loggen.DEFECTS)
def test_a_defect_is_refused_for_its_own_reason(defect: str, tmp_path: Path) -> None:
    seed = sum(defect.encode())  # any, but always the same
    text, truth = loggen.make(seed, defect, stamp_s=0.004 if seed % 2 else 0.00015)
    said = judged(text, tmp_path)
    assert said.verdict.value in truth["allowed"]
    assert said.verdict is not Verdict.PASS
    if said.verdict is Verdict.FAIL:
        failed = [one for one in said.findings if one.verdict is Verdict.FAIL]
        named = {one.effect for one in failed if not truth["function"] or one.function == truth["function"]}
        assert not truth["effects"] or named & set(truth["effects"])
    if defect not in STAMPED_LATE | NOT_FOR_GOOD:
        assert [line for line in latencies(said, truth) if "is not in" in line] == []


@pytest.mark.parametrize("defect", sorted(NOT_FOR_GOOD))
def test_what_came_back_is_timed_by_when_it_went_for_good(defect: str, tmp_path: Path) -> None:
    """So no interval of it is shorter than the truth about the first time."""
    text, truth = loggen.make(7, defect)
    said = judged(text, tmp_path)
    for demand in truth["demands"]:
        onset = round((demand["demand_s"] - truth["first_frame_s"]) * 1e9)
        for one in said.findings:
            if one.demand is not None and onset in one.demand and one.effect == EFFECT.get(one.subject):
                first = demand.get(KEY[one.subject])
                assert one.latency is not None
                assert first is None or one.latency.hi is None or one.latency.hi >= round(first * 1e9)


@pytest.mark.parametrize("defect", ["slow_drive", "slow_load", "sto_drive_unwired", "sto_load_unwired"])
def test_only_the_unit_at_fault_is_named(defect: str, tmp_path: Path) -> None:
    said = judged(loggen.make(5, defect)[0], tmp_path)
    unit = "drive" if "drive" in defect else "load"
    failed = {
        one.subject for one in said.findings if one.verdict is Verdict.FAIL and one.effect == "torque_off"
    }
    assert failed == {unit}


@pytest.mark.parametrize(
    ("defect", "subject"),
    [
        ("contactor_slow", "contactor"),
        ("bus_slow", "bus"),
        ("coast_long", "shaft"),
        ("channel_b_stuck", "cover"),
    ],
)
def test_devices_at_fault_are_named(defect: str, subject: str, tmp_path: Path) -> None:
    said = judged(loggen.make(6, defect)[0], tmp_path)
    assert subject in {one.subject for one in said.findings if one.verdict is Verdict.FAIL}
