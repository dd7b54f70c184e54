"""The report's table of repeated stops: all figures of the result, none where nothing was repeated."""

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from evidence_material import sample
from evidence_pdf_text import whole_text

from interlock.errors import EvidenceError
from interlock.evidence.document import write_report
from interlock.evidence.repeat_pages import bounds_above

NOW = datetime(2026, 2, 3, tzinfo=UTC)
ROW = {
    "function": "cover_stop",
    "subject": "drive",
    "effect": "torque_off",
    "limit_ns": 100_000_000,
    "count": 12,
    "worst_ns": [30_000_000, 41_230_000],
    "mean_ns": [20_000_000, 22_000_000],
    "spread_ns": [1_000_000, 3_000_000],
    "normality": {"test": "Shapiro-Wilk", "statistic": 0.9, "p_value": 0.4321},
    "proportion": 0.95,
    "confidence": 0.95,
    "normal_bound_ns": 55_550_001,
    "needed": 59,
    "sentence": "What the twelve say.",
    "worth": "12 stops are worth this.",
}


def report(folder: Path, *rows: dict[str, Any]) -> str:
    raw = sample()
    raw = sample(replay={**(raw.replay or {}), "repeats": list(rows)})
    return whole_text(write_report(folder / "report.pdf", raw, made_at=NOW))


def test_every_figure_is_printed(tmp_path: Path) -> None:
    text = " ".join(report(tmp_path, ROW).split())
    assert "Repeated stops" in text
    for said in (
        "cover_stop: torque off, drive",
        "30.0 to 41.3 ms",
        "20.0 to 22.0 ms",
        "1.0 to 3.0 ms",
        "below 55.6 ms",
        "What the twelve say. Shapiro-Wilk: p = 0.43. Limit 100 ms; bound for 95% of stops with 95% confidence.",
        "12 stops are worth this.",
        "change no verdict",
    ):
        assert said in text, said


def test_without_a_bound_or_a_test_it_says_so(tmp_path: Path) -> None:
    text = report(tmp_path, {**ROW, "normal_bound_ns": None, "normality": None})
    assert "none" in text
    assert "Too few stops, or no spread, to test whether they are normal." in " ".join(text.split())


def test_nothing_repeated_has_no_section(tmp_path: Path) -> None:
    assert "Repeated stops" not in report(tmp_path)


@pytest.mark.parametrize(
    "broken", [{"count": "many"}, {"worst_ns": [5]}, {"proportion": None}, {"function": ""}]
)
def test_a_broken_row_is_refused(broken: dict[str, Any], tmp_path: Path) -> None:
    with pytest.raises(EvidenceError, match="repeats"):
        report(tmp_path, {**ROW, **broken})


@pytest.mark.parametrize(
    ("bound", "limit", "said"),
    [
        (20_000_000, 100_000_000, "below 20 ms"),
        (20_000_001, 100_000_000, "below 20.1 ms"),
        (5_000_000_001, 6_000_000_000, "below 5.001 s"),
    ],
)
def test_a_bound_is_rounded_up(bound: int, limit: int, said: str) -> None:
    assert bounds_above(bound, limit) == said
