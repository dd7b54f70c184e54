"""Counterexamples as text and as SVG files: what the engineer reads, line by line."""

import json
import re

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from interlock.chain import Course, Part, Signal, Story, check_schema
from interlock.cli.story_page import story_lines

SLOW = "tests/benches/wrong/18_contactor_slower_than_the_hand.yaml"
TAPPED = "tests/benches/wrong/52_tapped_halt_and_a_dead_input.yaml"
STUCK = "tests/benches/wrong/60_seal_in_contact_welds.yaml"

SMALL = Story(
    (Course("door", "door", ("shut", "open", "open", "shut")), Course("k1", "relay", ("off",) * 4)),
    (
        Signal(Part.DEMAND, "door demands the stop", (False, True, True, False)),
        Signal(Part.EFFECT, "motor makes torque", (True, True, False, False)),
    ),
)


def test_a_small_story_line_by_line() -> None:
    assert list(story_lines(SMALL, 80)) == [
        "States of the devices. Each holds from the act of its number on; 0 is power-up.",
        "  door  0 shut | 1 open | 3 shut",
        "  no change  relay: off",
        "Timing, one column an act: '_' no, '-' yes.",
        "                         0     1     2     3",
        "  door demands the stop  ______/-----------\\_____",
        "  motor makes torque     ------------\\___________",
    ]


@pytest.mark.parametrize(
    ("high", "line"),
    [
        ((True,), "------"),
        ((False,), "______"),
        ((True, False), "------\\_____"),
        ((False, True), "______/-----"),
        ((True, True), "------------"),
    ],
)
def test_an_edge_stands_where_its_act_begins(high: tuple[bool, ...], line: str) -> None:
    one = Story((Course("d", "d", ("a",) * len(high)),), (Signal(Part.EFFECT, "x", high),))
    assert list(story_lines(one, 80))[-1] == f"  x  {line}"


@st.composite
def stories(draw: st.DrawFn) -> Story:
    moments = draw(st.integers(1, 60))
    high = st.lists(st.booleans(), min_size=moments, max_size=moments).map(tuple)
    states = st.lists(st.sampled_from(["on", "off, waiting for reset"]), min_size=moments, max_size=moments)
    words = st.text("abcdefgh ", min_size=1, max_size=60).map(str.strip).filter(bool)
    courses = draw(
        st.lists(st.builds(Course, st.just("d"), words, states.map(tuple)), min_size=1, max_size=5)
    )
    signals = draw(st.lists(st.builds(Signal, st.sampled_from(Part), words, high), max_size=6))
    return Story(tuple(courses), tuple(signals))


@settings(max_examples=60, deadline=None)
@given(stories(), st.integers(80, 160))
def test_no_line_is_wider_than_the_page_and_no_column_is_lost(story: Story, width: int) -> None:
    lines = list(story_lines(story, width))
    at = lines.index("Timing, one column an act: '_' no, '-' yes.")
    assert max(map(len, lines[at:])) <= width
    numbers = [int(one) for line in lines[at:] if re.fullmatch(r"[ \d]+", line) for one in line.split()]
    assert story.signals == () or numbers == list(range(story.moments))
    assert all(char.isascii() for line in lines for char in line)


@settings(max_examples=60, deadline=None)
@given(stories())
def test_the_levels_can_be_read_back_from_the_picture(story: Story) -> None:
    lines = list(story_lines(story, 120))
    at = lines.index("Timing, one column an act: '_' no, '-' yes.") + 1
    bands = len([line for line in lines[at:] if re.fullmatch(r"[ \d]+", line)])
    for number, one in enumerate(story.signals):
        drawn = ""
        for band in range(bands):
            header, row = (lines[at + band * (len(story.signals) + 1) + step] for step in (0, number + 1))
            for column in re.finditer(r"\d+", header):
                drawn += row[column.start() + 1]
        assert drawn == "".join("-" if high else "_" for high in one.high)


def test_people_see_acts_states_and_timing(interlock, root) -> None:
    said = interlock("check", root / SLOW).out
    assert "1. press the power button" in said
    assert "line contactor        0 open | 1 about to close | 2 closed | 3 about to open | 5 closed" in said
    assert re.search(r"line contactor: drop out under way +_+/-+\\_+\n", said)


def test_sources_in_brackets_are_printed(interlock, root) -> None:
    assert "[risk assessment of the rig]" in interlock("check", root / TAPPED).out


def test_under_faults_too(interlock, root) -> None:
    said = interlock("check", root / TAPPED).out
    fault = "pump motor: the torque-off input does not act"
    assert f"1. from power-up on: {fault}" in said
    assert re.search(r"pump motor: the torque-off input does n\.\.\. +-+\n", said)
    assert "let the halt button go" in said


def test_the_story_is_in_the_document(interlock, root) -> None:
    document = json.loads(interlock("check", root / STUCK, "--json").out)
    jsonschema.validate(document, check_schema())
    [bad] = [one for one in document["properties"] if one["verdict"] == "fail"]
    assert len(bad["story"]["devices"][0]["states"]) == len(bad["acts"]) + 1
    assert all(one["story"] is None for one in document["properties"] if not one["acts"])
    [fault] = [one for one in document["faults"] if one["set"] == ["k1.seal_welds"]]
    assert fault["steps"] == 2
    assert fault["story"]["signals"][0]["part"] == "fault"


def test_each_counterexample_is_drawn(interlock, root, tmp_path) -> None:
    said = interlock("check", root / STUCK, "--svg", tmp_path / "new" / "pictures")
    assert said.code == 1
    files = sorted((tmp_path / "new" / "pictures").iterdir())
    assert {"fault.k1.seal_welds.svg", "single_fault_tolerant.halt_stop.svg"} <= {path.name for path in files}
    for path in files:
        assert f"drawn: {path}" in said.out
        assert path.read_text("utf-8").startswith("<?xml")


def test_nothing_is_drawn_of_a_bench_that_passes(interlock, root, tmp_path) -> None:
    assert (
        interlock("check", root / "tests/benches/shapes/single_contactor.yaml", "--svg", tmp_path).code == 0
    )
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_is_a_file_is_refused(interlock, root, tmp_path) -> None:
    taken = tmp_path / "taken"
    taken.write_text("")
    assert interlock("check", root / STUCK, "--svg", taken).code == 2


@pytest.mark.parametrize("number", ["4", "-1", "some"])
def test_a_report_takes_as_few_faults_as_a_check(interlock, root, tmp_path, number) -> None:
    said = interlock("report", root / STUCK, root / STUCK, "--out", tmp_path / "r.pdf", "--faults", number)
    assert said.code == 2
    assert "--faults" in said.err
    assert list(tmp_path.iterdir()) == []
