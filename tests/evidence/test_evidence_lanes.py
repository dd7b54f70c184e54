"""Timing pictures: every finding in some lane, lanes on an axis that shows them, signals cut honestly."""

from collections.abc import Sequence

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reportlab.graphics.shapes import Line, PolyLine, Rect, String

from interlock.evidence.lanes import Panel, complete, panels, reach_ns, settled_ns, within
from interlock.evidence.material import Demand, Finding, Picture
from interlock.evidence.pictures import draw, lane_height, thinned, ticks
from interlock.evidence.style import FRAME_HEIGHT, LOOK, WIDTH
from interlock.evidence.timing_pages import page_sized
from interlock.interval import Interval
from interlock.verdict import Verdict

ONSET = Interval(10**9, 10**9 + 9_000_000)
MS = 10**6


def judged(
    number: int,
    latency: Interval | None = None,
    limit: int | None = None,
    verdict: Verdict = Verdict.PASS,
    onset: Interval | None = ONSET,
) -> Finding:
    return Finding(number, "stop", "drive", "torque_off", verdict, onset, latency, limit, "r", "s", "x")


def signal(values: Sequence[float | None], step: int = MS, start: int = ONSET.lo) -> Picture:
    return Picture("speed", "1/min", tuple(start + i * step for i in range(len(values))), tuple(values))


@st.composite
def findings(draw: st.DrawFn) -> list[Finding]:
    out = []
    for number in range(draw(st.integers(0, 12))):
        low = draw(st.integers(-(10**7), 10**11))
        span = draw(st.none() | st.builds(Interval, st.just(low), st.none() | st.integers(low, 2 * 10**11)))
        limit = draw(st.none() | st.integers(1, 10**11))
        out.append(judged(number, span, limit, draw(st.sampled_from(Verdict))))
    return out


@given(findings())
def test_each_finding_with_a_length_of_time_is_in_one_panel_that_reaches_it(
    given_ones: list[Finding],
) -> None:
    made = list(panels(ONSET, given_ones, ()))
    shown = [finding.number for panel in made for finding in panel.findings]
    assert sorted(shown) == [f.number for f in given_ones if reach_ns(f)]
    for panel in made:
        for finding in panel.findings:
            assert (reach_ns(finding) or 0) <= panel.end_ns
        longest = max(reach_ns(finding) or 0 for finding in panel.findings)
        assert panel.end_ns <= 1.1 * longest + 1  # and little further, so that lengths can be read


@given(findings())
def test_in_one_panel_the_longest_is_at_most_ten_times_the_shortest(given_ones: list[Finding]) -> None:
    made = list(panels(ONSET, given_ones, ()))
    for panel in made:
        reaches = [reach_ns(f) or 0 for f in panel.findings]
        assert max(reaches) <= 10 * min(reaches)
    assert [p.end_ns for p in made] == sorted(p.end_ns for p in made)


def test_fast_and_slow_effects_get_their_own_axes_and_signals() -> None:
    fast = judged(1, Interval(20 * MS, 30 * MS), 100 * MS)
    slow = judged(2, Interval(3900 * MS, 3920 * MS), 6000 * MS)
    current = signal([6.0] * 20 + [0.0] * 6000)
    speed = signal([1440.0 - i * 0.36 for i in range(4000)] + [0.0] * 2000)
    first, second = panels(ONSET, [fast, slow], [speed, current])
    assert (first.findings, second.findings) == ((fast,), (slow,))
    assert [len(first.series), len(second.series)] == [1, 1]
    assert first.series[0].pieces[0][0] == (0, 6.0)
    assert second.series[0].pieces[0][0] == (0, 1440.0)


def test_signals_without_findings_are_drawn_to_their_end() -> None:
    (panel,) = panels(ONSET, [], [signal([1.0, 2.0, 3.0])])
    assert panel.end_ns == 2 * MS
    assert list(panels(ONSET, [], [])) == []


def test_a_signal_settles_when_it_is_last_away_from_its_end() -> None:
    assert settled_ns(signal([5.0, 5.0, 1.0, 0.01, 0.0]), ONSET.lo) == 2 * MS
    assert settled_ns(signal([3.0, 3.0]), ONSET.lo) == 0
    assert settled_ns(signal([None, None]), ONSET.lo) == 0


def test_a_gap_splits_a_signal_and_is_never_bridged() -> None:
    got = within(signal([1.0, None, 2.0, 3.0]), ONSET.lo, 10 * MS)
    assert got.pieces == (((0, 1.0),), ((2 * MS, 2.0), (3 * MS, 3.0)))


def test_only_what_lies_in_the_panel_is_drawn() -> None:
    got = within(signal([float(i) for i in range(100)], start=ONSET.lo - 50 * MS), ONSET.lo, 20 * MS)
    assert [at for at, _ in got.pieces[0]] == [i * MS for i in range(-2, 21)]


def test_a_signal_of_noughts_and_ones_is_a_state() -> None:
    assert within(signal([1.0, 0.0, None]), ONSET.lo, 10 * MS).is_state
    assert not within(signal([1.0, 0.5]), ONSET.lo, 10 * MS).is_state


def test_each_demand_has_its_own_findings_and_no_finding_is_lost() -> None:
    other = Interval(5 * 10**9, 5 * 10**9)
    listed = Demand(1, "stop", "button", ONSET, ())
    mine, unlisted, timeless = judged(1), judged(2, onset=other), judged(3, onset=None)
    got = complete([listed], [mine, unlisted, timeless])
    assert [(demand.onset, group) for demand, group in got] == [(ONSET, [mine]), (other, [unlisted])]


# what is drawn


def shapes(panel: Panel, kind: type) -> list[object]:
    return [shape for shape in draw(panel, ONSET).contents if isinstance(shape, kind)]


def bars(panel: Panel) -> list[Rect]:
    return [shape for shape in shapes(panel, Rect) if shape.strokeColor is not None]


def test_the_bar_spans_the_latency_to_scale() -> None:
    (bar,) = bars(Panel(100 * MS, (judged(1, Interval(25 * MS, 75 * MS), 100 * MS),), ()))
    (whole,) = bars(Panel(100 * MS, (judged(1, Interval(0, 100 * MS), 100 * MS),), ()))
    assert bar.width == pytest.approx(whole.width / 2)
    assert bar.x - whole.x == pytest.approx(whole.width / 4)


def test_a_latency_without_upper_bound_goes_to_the_edge_with_an_arrow() -> None:
    bounded = Panel(100 * MS, (judged(1, Interval(25 * MS, 100 * MS), None),), ())
    open_ended = Panel(100 * MS, (judged(1, Interval(25 * MS, None), None),), ())
    assert bars(open_ended)[0].width == bars(bounded)[0].width
    assert len(shapes(open_ended, Line)) == len(shapes(bounded, Line)) + 2


def test_a_limit_is_a_heavy_line_at_its_place() -> None:
    panel = Panel(100 * MS, (judged(1, Interval(0, 100 * MS), 100 * MS),), ())
    heavy = [line for line in shapes(panel, Line) if line.strokeWidth > 1.5]
    (bar,) = bars(panel)
    assert [line.x1 for line in heavy] == pytest.approx([bar.x + bar.width])


def test_the_verdict_stands_beside_the_bar_in_words() -> None:
    for verdict, word in (
        (Verdict.PASS, "pass"),
        (Verdict.FAIL, "FAIL"),
        (Verdict.INCONCLUSIVE, "inconclusive"),
        (Verdict.NOT_OBSERVED, "not observed"),
    ):
        panel = Panel(100 * MS, (judged(1, Interval(1 * MS, 2 * MS), 100 * MS, verdict),), ())
        assert f"limit 100 ms: {word}" in [text.text for text in shapes(panel, String)]


def test_no_two_verdicts_look_alike_and_nothing_open_looks_like_a_pass() -> None:
    """In colour, and in a black-and-white print: by fill and by frame."""
    looks = [(LOOK[v].fill.hexval(), LOOK[v].dash) for v in Verdict]
    assert len(set(looks)) == len(Verdict)
    for verdict in (Verdict.INCONCLUSIVE, Verdict.NOT_OBSERVED):
        assert LOOK[verdict].fill.hexval() != LOOK[Verdict.PASS].fill.hexval()
        assert LOOK[verdict].dash is not None
    assert LOOK[Verdict.PASS].dash is None


@settings(max_examples=40)
@given(findings(), st.lists(st.lists(st.none() | st.floats(-1e9, 1e9), max_size=30), max_size=3))
def test_nothing_is_drawn_outside_the_picture(
    given_ones: list[Finding], signals: list[list[float | None]]
) -> None:
    for panel in panels(ONSET, given_ones, [signal(values) for values in signals]):
        drawing = draw(panel, ONSET)
        assert drawing.height == lane_height(panel)
        left, low, right, high = drawing.getBounds()
        assert left >= -1 and right <= WIDTH + 1
        assert low >= -1 and high <= drawing.height + 1


def test_a_state_is_drawn_in_steps_and_one_sample_as_a_dot() -> None:
    state = within(signal([1.0, 0.0]), ONSET.lo, 10 * MS)
    (line,) = shapes(Panel(10 * MS, (), (state,)), PolyLine)
    (x0, y0, x1, y1, x2, y2) = line.points
    assert (y0, x1) == (y1, x2)
    assert x0 < x1 and y2 < y1
    (dot,) = shapes(Panel(10 * MS, (), (within(signal([4.0]), ONSET.lo, 10 * MS),)), PolyLine)
    assert dot.points[2] - dot.points[0] == 2


def test_a_signal_that_never_changes_lies_in_the_middle_with_one_figure() -> None:
    panel = Panel(10 * MS, (), (within(signal([7.0, 7.0]), ONSET.lo, 10 * MS),))
    (line,) = shapes(panel, PolyLine)
    base = lane_height(panel) - 2 - 36
    assert line.points[1] == line.points[3] == pytest.approx(base + 18)
    assert [text.text for text in shapes(panel, String)].count("7") == 1


def test_noise_about_zero_reads_as_zero() -> None:
    panel = Panel(10 * MS, (), (within(signal([6.2, 1e-14]), ONSET.lo, 10 * MS),))
    texts = [text.text for text in shapes(panel, String)]
    assert "6.2" in texts and "1e-14" not in texts


def test_a_signal_without_samples_says_so() -> None:
    empty = within(signal([None]), ONSET.lo, 10 * MS)
    texts = [text.text for text in shapes(Panel(10 * MS, (), (empty,)), String)]
    assert "no sample in this stretch of time" in texts


@given(st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=5000))
def test_thinning_keeps_the_ends_and_every_extreme(values: list[float]) -> None:
    samples = list(enumerate(values))
    kept = thinned(samples)
    assert len(kept) <= 1000
    assert kept == sorted(kept) and set(kept) <= set(samples)
    assert (kept[0], kept[-1]) == (samples[0], samples[-1])
    assert max(v for _, v in kept) == max(values)
    assert min(v for _, v in kept) == min(values)


@given(st.integers(1, 10**12))
def test_ticks_are_round_and_few(end_ns: int) -> None:
    got = ticks(end_ns)
    assert got[0] == 0 and got[-1] <= end_ns
    assert 1 <= len(got) <= 8
    if len(got) > 1:
        assert str(got[1]).rstrip("0") in {"1", "2", "5"}


def test_a_panel_too_tall_for_a_page_is_cut_between_lanes() -> None:
    rows = tuple(judged(number, Interval(1, 2), 10) for number in range(90))
    series = within(signal([1.0, 2.0]), ONSET.lo, 10 * MS)
    parts = list(page_sized(Panel(10 * MS, rows, (series,) * 40)))
    assert [finding.number for part in parts for finding in part.findings] == list(range(90))
    assert sum(len(part.series) for part in parts) == 40
    assert max(map(lane_height, parts)) < FRAME_HEIGHT - 60
