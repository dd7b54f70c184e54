"""The report's table of stops from maximum speed: figures of the result, held against each other; reasons else."""

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
    "subject": "shaft",
    "demand_ns": [5_000_000_000, 5_010_000_000],
    "limit_ns": 6_000_000_000,
    "max_speed_per_min": 1500.0,
    "tested_speed_per_min": 1419.4,
    "confidence": 0.95,
    "torque_gone_ns": [10_000_000, 30_000_000],
    "taken_ns": [4_706_000_001, 4_733_999_999],
    "holds": True,
    "coulomb_nm": [0.2801, 0.279, 0.281],
    "viscous_nms_per_rad": [0.0012, 0.0011, 0.0013],
    "sentence": "What the stop says.",
}
NONE = {"tested_speed_per_min": None, "torque_gone_ns": None, "taken_ns": None, "holds": None}
REFUSED = {
    **ROW,
    **NONE,
    "coulomb_nm": None,
    "viscous_nms_per_rad": None,
    "sentence": "It cannot be said: why.",
}


def report(folder: Path, *rows: dict[str, Any]) -> str:
    raw = sample()
    raw = sample(replay={**(raw.replay or {}), "coast_downs": list(rows)})
    return " ".join(whole_text(write_report(folder / "report.pdf", raw, made_at=NOW)).split())


def test_every_figure_is_printed(tmp_path: Path) -> None:
    text = report(tmp_path, ROW)
    for said in (
        "From maximum speed",
        "cover_stop",
        "5.0000 to 5.0100 s",
        "1419 1/min",
        "4.706 to 4.734 s",
        "6 s yes",
        "What the stop says. Friction at the stated inertia: 0.28 Nm and 0.0012 Nm s/rad.",
        "These figures change no verdict",
        "replace no test from maximum speed",
    ):
        assert said in text, said


def test_a_reason_stands_where_there_is_no_time(tmp_path: Path) -> None:
    text = report(tmp_path, REFUSED)
    assert "– not known 6 s open" in text
    assert "It cannot be said: why." in text
    assert "Friction at" not in text


@pytest.mark.parametrize(
    ("taken", "holds", "word"),
    [
        ([6_000_000_001, 7_000_000_000], False, "NO"),
        ([5_900_000_000, 6_000_000_001], None, "open"),
        ([5_900_000_000, None], None, "open"),
        ([5_900_000_000, 6_000_000_000], True, "yes"),
    ],
)
def test_the_answer_is_that_of_the_figures(
    taken: list[int | None], holds: bool | None, word: str, tmp_path: Path
) -> None:
    assert f"6 s {word}" in report(tmp_path, {**ROW, "taken_ns": taken, "holds": holds})


def test_no_such_stop_has_no_section(tmp_path: Path) -> None:
    assert "From maximum speed" not in report(tmp_path)


@pytest.mark.parametrize(
    "broken",
    [
        {"holds": None},
        {"holds": False},
        {"holds": 1},
        {"taken_ns": [4_706_000_001, 6_000_000_001]},
        {"taken_ns": None},
        {"taken_ns": [5]},
        {"limit_ns": None},
        {"function": ""},
        {"sentence": ""},
        {"coulomb_nm": ["a lot"]},
        {"tested_speed_per_min": "fast"},
    ],
)
def test_a_broken_row_or_one_that_contradicts_itself_is_refused(
    broken: dict[str, Any], tmp_path: Path
) -> None:
    with pytest.raises(EvidenceError, match="coast_downs"):
        report(tmp_path, {**ROW, **broken})
