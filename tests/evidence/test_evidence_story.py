"""Counterexamples in the report and as SVG: nothing of them is lost, nothing wrong is printed."""

import re
from pathlib import Path
from typing import Any

import pytest
from evidence_material import CHECK, MADE_AT, sample
from evidence_pdf_text import whole_text
from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import etree
from reportlab.graphics.shapes import Drawing, PolyLine, Rect, String

from interlock.bench import load_bench
from interlock.chain import Course, Part, Signal, Story, check
from interlock.errors import EvidenceError
from interlock.evidence.document import write_report
from interlock.evidence.fields import Fields
from interlock.evidence.story_pictures import COLUMNS_AT_MOST, timing, timing_height
from interlock.evidence.story_rows import read_steps, read_story
from interlock.evidence.story_svg import story_svg, story_svgs
from interlock.evidence.style import WIDTH

STORY: dict[str, Any] = {
    "devices": [
        {"device": "cover", "name": "chamber cover", "states": ["shut", "open", "open"]},
        {"device": "fan", "name": "cooling fan", "states": ["humming", "humming", "humming"]},
    ],
    "signals": [
        {"part": "demand", "words": "chamber cover demands the stop", "high": [False, True, True]},
        {"part": "effect", "words": "drive makes torque", "high": [True, True, False]},
    ],
}
ACTS = [
    {"words": "open the cover", "kind": "act", "changes": ["relay: drops out"]},
    {"words": "close it", "kind": "act", "changes": []},
]


def row(**changes: Any) -> Fields:
    return Fields.of({"acts": ACTS, "story": STORY, **changes}, "check.properties[0]")


def drawn(drawing: Drawing) -> list[Any]:
    return list(drawing.contents)


def test_a_story_is_read_as_it_was_written() -> None:
    story = read_story(row())
    assert story is not None
    assert story.as_json() == STORY
    assert [(one.words, one.changes) for one in read_steps(row())] == [
        ("open the cover", ("relay: drops out",)),
        ("close it", ()),
    ]


def test_without_story_there_is_none() -> None:
    assert read_story(row(story=None)) is None
    assert read_story(Fields.of({"acts": []}, "check")) is None
    assert read_steps(Fields.of({"acts": ["press reset"]}, "check"))[0].words == "press reset"


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"acts": ACTS[:1]}, "2 columns were expected"),
        ({"story": {**STORY, "devices": []}}, "3 columns were expected"),
        (
            {"story": {**STORY, "signals": [{**STORY["signals"][0], "high": [True]}]}},
            "3 columns were expected",
        ),
        ({"story": {**STORY, "signals": [{**STORY["signals"][0], "high": [1, 0, 1]}]}}, "true or false"),
        ({"story": {**STORY, "signals": [{**STORY["signals"][0], "part": "rumour"}]}}, "rumour"),
        ({"story": {**STORY, "devices": [{"device": "x", "states": ["a"] * 3}]}}, "'name' is missing"),
        ({"story": "none"}, "an object was expected"),
    ],
)
def test_a_torn_story_is_refused_where_it_stands(changes: dict[str, Any], says: str) -> None:
    with pytest.raises(EvidenceError, match=r"check\.properties\[0\]") as refused:
        read_story(row(**changes))
    assert says in str(refused.value)


@st.composite
def stories(draw: st.DrawFn) -> Story:
    moments = draw(st.integers(1, COLUMNS_AT_MOST + 6))
    high = st.lists(st.booleans(), min_size=moments, max_size=moments).map(tuple)
    words = st.text(st.characters(codec="utf-8", exclude_categories=["Cs", "Cc"]), min_size=1, max_size=50)
    signals = draw(st.lists(st.builds(Signal, st.sampled_from(Part), words, high), min_size=1, max_size=5))
    return Story((Course("d", "door", ("shut",) * moments),), tuple(signals))


@settings(max_examples=15, deadline=None)
@given(stories())
def test_each_level_is_drawn_at_its_act(story: Story) -> None:
    for first in range(0, story.moments, COLUMNS_AT_MOST):
        columns = range(first, min(first + COLUMNS_AT_MOST, story.moments))
        drawing = timing(story, first)
        assert drawing.height == timing_height(story)
        lines = [one for one in drawn(drawing) if isinstance(one, PolyLine)]
        assert len(lines) == len(story.signals)
        for line, one in zip(lines, story.signals, strict=True):
            heights = line.points[1::4]
            base = min(line.points[1::2])
            high = [one.high[at] for at in columns]
            up = [height > base for height in heights]
            assert up == high or (
                all(high) and not any(up)
            )  # a line that is always up has no lower edge to compare
            assert 0 <= min(line.points[::2]) <= max(line.points[::2]) <= WIDTH + 0.5
        numbers = [one.text for one in drawn(drawing) if isinstance(one, String) and one.text.isascii()]
        assert {str(at) for at in columns} <= set(numbers)


def test_only_the_last_column_is_shaded() -> None:
    story = Story((Course("d", "d", ("a",) * 30),), (Signal(Part.EFFECT, "x", (False,) * 30),))
    shades = [
        [one for one in drawn(timing(story, at)) if isinstance(one, Rect)] for at in (0, COLUMNS_AT_MOST)
    ]
    assert [len(found) for found in shades] == [0, 1]


def test_the_report_shows_acts_states_and_signals(tmp_path: Path) -> None:
    wrong = CHECK["properties"][0] | {"verdict": "fail", "acts": ACTS, "story": STORY, "title": "cover stops"}
    path = tmp_path / "report.pdf"
    raw = sample(check=CHECK | {"verdict": "fail", "properties": [wrong]})
    write_report(path, raw, made_at=MADE_AT)
    text = whole_text(path)
    at = text.index("How each violation comes about")
    assert "1. open the cover (relay: drops out) 2. close it" in text[at:]
    assert "chamber cover demands the stop" in text[at:]
    assert re.search(r"chamber cover shut open –", text[at:])
    assert "All the way: cooling fan: humming." in text[at:]


def svg(story: Story, **changes: Any) -> etree._Element:
    given = {"title": "torque off", "sentence": "It stays on.", "acts": ["open", "shut"], **changes}
    parser = etree.XMLParser(resolve_entities=False, no_network=True)
    return etree.fromstring(story_svg(story=story, **given).encode(), parser)


def test_a_drawing_says_all_of_the_counterexample() -> None:
    story = read_story(row())
    assert story is not None
    page = svg(story, acts=["open the <cover> & wait", "shut it"])
    words = [text.text for text in page.iter("{http://www.w3.org/2000/svg}text")]
    assert "torque off" in words
    assert "It stays on." in words
    assert any("open the <cover> & wait" in text for text in words)
    assert any("chamber cover:" in text and "0 shut" in text and "1 open" in text for text in words)
    assert "drive makes torque" in words


def test_a_drawing_fetches_nothing_and_is_the_same_each_time() -> None:
    story = read_story(row())
    assert story is not None
    first, again = (story_svg("t", "s", ["a", "b"], story) for _ in range(2))
    assert first == again
    assert "DOCTYPE" not in first
    assert re.findall(r"https?://[^\"' ]+", first) == [
        "http://www.w3.org/2000/svg",
        "http://www.w3.org/1999/xlink",
    ]


@settings(max_examples=10, deadline=None)
@given(stories(), st.text(max_size=200))
def test_any_words_give_a_drawing_that_can_be_read(story: Story, sentence: str) -> None:
    page = svg(story, sentence=sentence, acts=["act"] * (story.moments - 1))
    assert float(page.get("height")) > 0


RIG = Path(__file__).parents[1] / "benches" / "shapes" / "diagnostic_feedback.yaml"


def test_a_fault_that_goes_away_is_drawn_with_the_act_on_which_it_goes() -> None:
    result = check(load_bench(RIG), faults=1)
    assert result.clearing is not None
    assert result.clearing.found
    files = dict(story_svgs(result))
    for one in result.clearing.found:
        text = files[f"clearing.{one.fault}.svg"]
        root = etree.fromstring(text.encode(), etree.XMLParser(resolve_entities=False))
        said = " ".join("".join(root.itertext()).split())
        assert "the fault goes away by itself" in said
        [gone] = [at for at, act in enumerate(one.acts, 1) if "goes away by itself" in act.words]
        assert f"{gone}. the fault goes away by itself" in said


def test_every_file_has_a_name_of_its_own() -> None:
    names = [name for name, _ in story_svgs(check(load_bench(RIG), faults=2))]
    assert len(set(names)) == len(names)
    assert any(name.startswith("fault.") for name in names)
    assert any(name.startswith("clearing.") for name in names)
