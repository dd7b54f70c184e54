"""Mission time and T10d of each wearing part, at both ends."""

import pytest
from rating_benches import COVER_STOP, changed, switch

from interlock.rating.ends import Ends
from interlock.rating.inputs import read_rating
from interlock.rating.rate_mission import judge_mission
from interlock.rating.step import Trail
from interlock.verdict import Verdict


def judged(**changes):
    inputs = read_rating(changed(COVER_STOP, **changes))
    trail = Trail()
    function = inputs.functions["cover_stop"]
    found = judge_mission(function, inputs, Ends(pessimistic=True), Ends(pessimistic=False), trail)
    return found, {step.title: step.result for step in trail.steps}


def test_every_wearing_part_once() -> None:
    """The drive is rated by years and does not wear by operations."""
    found, steps = judged()
    assert [finding.sentence.split()[0] for finding in found] == ["switch_1", "switch_2", "contactor_1"]
    assert all(finding.verdict is Verdict.PASS for finding in found)
    assert set(steps.values()) == {20}


@pytest.mark.parametrize(
    ("b10d", "replaced", "verdict"),
    [  # 7680 operations a year
        (153_600, None, Verdict.PASS),  # T10d exactly 20 years
        (153_599, None, Verdict.FAIL),
        (1e5, 13.0, Verdict.PASS),
        (1e5, 13.03, Verdict.FAIL),
        ([1e5, 153_600], None, Verdict.INCONCLUSIVE),
        ([1e5, 153_599], None, Verdict.FAIL),
        ([1e5, 2e5], 13.0, Verdict.PASS),
    ],
)
def test_t10d(b10d, replaced, verdict) -> None:
    part = switch(b10d=b10d)
    if replaced is not None:
        part["replaced_every_years"] = replaced
    found, steps = judged(parts__switch_1=part)
    assert found[0].verdict is verdict
    assert steps["switch_1: replace within"] <= 20


def test_a_shorter_mission_needs_less() -> None:
    found, steps = judged(parts__switch_1=switch(b10d=1e5), mission_time_years=13.0)
    assert found[0].verdict is Verdict.PASS
    assert steps["switch_1: replace within"] == 13


def test_a_replacement_interval_beyond_the_mission_is_the_mission() -> None:
    found, _ = judged(parts__switch_1=switch(replaced_every_years=50.0))
    assert "used for 20 years" in found[0].sentence


@pytest.mark.parametrize(("years", "verdict"), [(20.0, None), (20.1, Verdict.FAIL)])
def test_the_table_holds_for_twenty_years(years, verdict) -> None:
    """ISO 13849-1:2006, 4.5.4: mission time 20 years is assumed."""
    found, _ = judged(mission_time_years=years)
    first = found[0]
    assert (first.verdict if "table holds" in first.sentence else None) is verdict
