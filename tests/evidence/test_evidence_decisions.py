"""The report's tables of decision rules and discharges: figures of the result, and refused where they contradict."""

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from evidence_material import sample
from evidence_pdf_text import whole_text

from interlock.errors import EvidenceError
from interlock.evidence.document import write_report

NOW = datetime(2026, 2, 3, tzinfo=UTC)
ROW = {
    "function": "cover_stop",
    "subject": "drive",
    "what": "torque_off",
    "count": 5,
    "interval_ns": [14_000_000, 36_600_000],
    "measured_ns": 25_300_000,
    "expanded_uncertainty_ns": 13_048_116,
    "limit_ns": 80_000_000,
    "false_acceptance": 0.0,
    "accepted": {"simple acceptance": True, "guard band": False},
    "whole_interval_within": True,
    "decided_by": "guard band",
}
OPEN = {
    **ROW,
    "what": "standstill_from_maximum_speed",
    "interval_ns": [14_000_000, None],
    "measured_ns": None,
    "expanded_uncertainty_ns": None,
    "false_acceptance": None,
    "accepted": {"simple acceptance": None, "guard band": None},
    "whole_interval_within": False,
    "decided_by": "whole interval",
}
RULE = {"rule": "guard band", "measuring_chain_ns": 2_000_000, "source": "risk assessment, item 12"}
FALL = {
    "function": "emergency_stop",
    "subject": "link",
    "demand_ns": [5_000_000_000, 5_010_000_000],
    "limit_ns": 4_000_000_000,
    "safe_v": 60.0,
    "highest_v": 352.0,
    "confidence": 0.95,
    "time_constant_s": [1.1, 1.092, 1.107],
    "taken_ns": [1_932_000_001, 1_959_999_999],
    "remaining_v": [3.62, 3.85],
    "holds": True,
    "sentence": "What the discharge says.",
}
UNKNOWN = {
    **FALL,
    "time_constant_s": None,
    "taken_ns": None,
    "remaining_v": None,
    "holds": None,
    "demand_ns": None,
}


def report(folder: Path, **entries: Any) -> str:
    raw = sample()
    raw = sample(replay={**(raw.replay or {}), **entries})
    return " ".join(whole_text(write_report(folder / "report.pdf", raw, made_at=NOW)).split())


def test_every_figure_of_a_decision_is_printed(tmp_path: Path) -> None:
    text = report(tmp_path, decisions=[ROW, {**ROW, "false_acceptance": 1e-12}, OPEN], decision=RULE)
    for said in (
        "Decision rules",
        "Stated in the bench file: guard band, with an expanded uncertainty of the measuring chain of 2 ms"
        " [risk assessment, item 12].",
        "torque off, drive 5 25.3 ms 13.1 ms 80 ms 0 accepts REFUSES guard band",
        "below 1e-9",
        "not known not known 80 ms not known not known not known whole interval",
        "Neither makes a pass of a time whose whole interval is not within its limit.",
    ):
        assert said in text, said


@pytest.mark.parametrize("rule", [{}, {"decision": None}], ids=["old_result", "none"])
def test_without_a_rule_it_says_that_the_whole_interval_decides(tmp_path: Path, rule: dict[str, Any]) -> None:
    text = report(tmp_path, decisions=[{**ROW, "decided_by": "whole interval"}], **rule)
    assert (
        "The bench file states no decision rule: the whole interval must be within its limit, and no more."
        in text
    )


@pytest.mark.parametrize(
    "change",
    [{"interval_ns": [14_000_000, 80_000_001]}, {"interval_ns": [14_000_000, None]}, {"interval_ns": None}],
)
def test_an_interval_that_is_not_within_and_is_said_to_be_is_refused(
    tmp_path: Path, change: dict[str, Any]
) -> None:
    with pytest.raises(EvidenceError, match=r"decisions\[0\]\.whole_interval_within: contradicts"):
        report(tmp_path, decisions=[{**ROW, **change}])


def test_a_decision_without_its_limit_is_refused(tmp_path: Path) -> None:
    with pytest.raises(EvidenceError, match="'limit_ns' is missing"):
        report(tmp_path, decisions=[{**ROW, "limit_ns": None}])


def test_every_figure_of_a_discharge_is_printed(tmp_path: Path) -> None:
    text = report(tmp_path, discharges=[FALL])
    for said in (
        "Discharge of the DC bus",
        "emergency_stop 5.0000 to 5.0100 s 1.092 to 1.107 s 1.932 to 1.960 s 4 s 3.62 to 3.85 V",
        "What the discharge says.",
        "prove it dead with a meter before touching",
    ):
        assert said in text, said


def test_a_discharge_without_figures_says_so(tmp_path: Path) -> None:
    assert "emergency_stop before the log not known not known 4 s not known" in report(
        tmp_path, discharges=[UNKNOWN]
    )


@pytest.mark.parametrize(
    ("holds", "limit_ns"),
    [(True, 1_900_000_000), (False, 4_000_000_000), (True, 1_940_000_000), (False, 1_940_000_000)],
)
def test_an_answer_that_its_own_figures_refute_is_refused(tmp_path: Path, holds: bool, limit_ns: int) -> None:
    with pytest.raises(EvidenceError, match=r"discharges\[0\]\.holds: contradicts"):
        report(tmp_path, discharges=[{**FALL, "holds": holds, "limit_ns": limit_ns}])


def test_an_open_answer_may_be_stricter_than_its_figures(tmp_path: Path) -> None:
    """Most of the time was not recorded: then the band within the limit decides nothing."""
    for limit_ns in (4_000_000_000, 1_940_000_000, 1_900_000_000):
        row = {**FALL, "holds": None, "limit_ns": limit_ns}
        assert "What the discharge says." in report(tmp_path, discharges=[row])


def test_results_without_such_rows_have_no_such_pages(tmp_path: Path) -> None:
    text = report(tmp_path)
    assert "Decision rules" not in text
    assert "Discharge of the DC bus" not in text
