"""The three logs of a foreign bench: verdicts, causes, and the truth within every interval.

They were made by a program that shares nothing with this project; the truth files say what happened in its
continuous time. The bench's figures are in the bench description beside its DBC.
"""

import functools
import json
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from replay_tape import BENCH, BENCH_FILE, found

from interlock.replay import Judgement, document, replay, replay_schema
from interlock.verdict import Verdict

FILES = {"sound": "sound.blf", "slow": "slow.asc", "refs_kept": "refs_kept.log"}
FUNCTION = {"cover": "cover_stop", "button": "button_stop", "emergency": "emergency_stop"}
WIDEST_NS = 60_000_000
EVERY = pytest.mark.parametrize("name", FILES)


def truth_of(name: str) -> dict[str, Any]:
    """What truly happened in a sample log."""
    file = Path(__file__).parent.parent / "data" / "samples" / f"{name}.truth.json"
    told: dict[str, Any] = json.loads(file.read_text(encoding="utf-8"))
    return told


@pytest.fixture(scope="module")
def said(samples: Path) -> Callable[[str], Judgement]:
    """The judgement of a sample log, made once."""
    return functools.cache(lambda name: replay(BENCH_FILE, BENCH, [samples / FILES[name]]))


def test_the_sound_one_passes(said: Callable[[str], Judgement]) -> None:
    judgement = said("sound")
    assert judgement.verdict is Verdict.PASS
    assert {one.verdict for one in judgement.findings} == {Verdict.PASS}


def test_the_slow_one_fails_by_the_latency_of_the_cover_stop_only(said: Callable[[str], Judgement]) -> None:
    judgement = said("slow")
    assert judgement.verdict is Verdict.FAIL
    failed = [one for one in judgement.findings if one.verdict is Verdict.FAIL]
    assert {one.function for one in failed} == {"cover_stop"}
    assert {one.effect for one in failed} == {"torque_off", "enable_off", "references_zero"}
    assert {one.subject for one in failed} == {"drive", "load", "references"}
    assert all("for good only" in one.sentence for one in failed)
    assert {one.verdict for one in judgement.findings if one not in failed} == {Verdict.PASS}


def test_the_one_with_kept_references_fails_by_them_after_every_stop(
    said: Callable[[str], Judgement],
) -> None:
    judgement = said("refs_kept")
    assert judgement.verdict is Verdict.FAIL
    kept = found(judgement, "references_zero")
    assert [one.verdict for one in kept] == [Verdict.FAIL] * 6
    assert {one.function for one in kept} == set(FUNCTION.values())
    assert all("not seen that the references were zero" in one.sentence for one in kept)
    failed = {one.effect for one in judgement.findings if one.verdict is Verdict.FAIL}
    assert failed == {"references_zero", "restart"}
    assert {one.verdict for one in found(judgement, "torque_off")} == {Verdict.PASS}


def demands(name: str) -> list[tuple[int, dict[str, Any]]]:
    truth = truth_of(name)
    return [(round((one["demand_s"] - truth["first_frame_s"]) * 1e9), one) for one in truth["demands"]]


@EVERY
def test_every_true_onset_and_latency_lies_within_its_interval(
    name: str, said: Callable[[str], Judgement]
) -> None:
    judgement = said(name)
    for onset, true in demands(name):
        for effect, subject, key in (
            ("torque_off", "drive", "drive_latency_s"),
            ("torque_off", "load", "load_latency_s"),
            ("contactor_open", "contactor", "contactor_s"),
        ):
            if key not in true:
                continue
            (one,) = [
                one
                for one in found(judgement, effect, subject=subject, function=FUNCTION[true["what"]])
                if one.demand is not None and onset in one.demand
            ]
            assert one.latency is not None
            assert one.latency.hi is not None
            assert round(true[key] * 1e9) in one.latency
            assert one.latency.hi - one.latency.lo <= WIDEST_NS
            late = true[key] > one.limit_ns / 1e9  # type: ignore[operator]
            assert one.verdict is (Verdict.FAIL if late else Verdict.PASS)


@EVERY
def test_no_demand_is_missed_and_none_is_invented(name: str, said: Callable[[str], Judgement]) -> None:
    shown = [one for one in said(name).stops if one.demand is not None]
    true = demands(name)
    assert [one.name for one in shown] == [FUNCTION[one["what"]] for _, one in true]
    assert all(onset in one.demand for (onset, _), one in zip(true, shown, strict=True) if one.demand)


@EVERY
def test_coast_down_and_discharge_agree_with_the_physics_of_the_truth_file(
    name: str, said: Callable[[str], Judgement]
) -> None:
    """Exact solutions for Coulomb and viscous friction, and for a capacitor through a resistor (textbook physics)."""
    truth = truth_of(name)
    rest = truth["coulomb"] / truth["viscous"]
    speed, low = truth["speed_rpm"] * math.pi / 30, 5 * math.pi / 30
    coast_s = truth["inertia"] / truth["viscous"] * math.log((speed + rest) / (low + rest))
    for one in found(said(name), "standstill"):
        assert one.latency is not None
        assert one.latency.hi is not None
        assert coast_s - 0.3 < one.latency.lo / 1e9 < one.latency.hi / 1e9 < coast_s + 0.3
    fall_s = truth["bus_tau_s"] * math.log(truth["bus_v"] / 60)
    (one,) = found(said(name), "bus_discharged")
    assert one.latency is not None
    assert one.latency.lo / 1e9 - 0.01 <= fall_s <= (one.latency.hi or 0) / 1e9 + 0.01


@EVERY
def test_the_document_keeps_to_the_schema_and_names_the_instant_of_the_first_frame(
    name: str, said: Callable[[str], Judgement]
) -> None:
    told = document(said(name), "0" * 64)
    jsonschema.validate(told, replay_schema(), jsonschema.Draft202012Validator)
    truth = truth_of(name)
    seconds = truth["epoch"] + truth["first_frame_s"]
    minute, rest = divmod(seconds - 1_790_000_000, 60)
    assert minute == 0
    # 1 790 000 000 s after 1970 is 2026-09-21 14:13:20 UTC; ASC says the time of day of its start to 0.1 s only.
    assert told["trace_start"].startswith("2026-09-21T14:13:2")
    shown = float(told["trace_start"][17:-1]) - 20
    assert abs(shown - rest) < (0.1 if name == "slow" else 2e-6)
    assert told["sources"][0]["rejected"] == 0


@EVERY
def test_nothing_in_a_sample_log_is_in_doubt(name: str, said: Callable[[str], Judgement]) -> None:
    assert [one for one in said(name).observation.trace.quality if one.blinds] == []
