"""Stories of benches with modes, zones and stops of their own reset: the signals speak of what the bench has."""

from pathlib import Path

import yaml
from chain_benches import BENCHES

from interlock.bench import parse_bench
from interlock.chain import Part, Story, check

SHAPES = BENCHES / "shapes"
EXPECTED = yaml.safe_load((SHAPES / "expected.yaml").read_text("utf-8"))


def twin(name: str) -> list[Story]:
    """The stories of the wrong twin of a right bench."""
    text = (SHAPES / name).read_text("utf-8")
    bench = parse_bench(Path(name).name, text.replace(EXPECTED[name]["mend"], EXPECTED[name]["wrong"], 1))
    return [one.story for one in check(bench, faults=0).properties if one.story is not None]


def words(stories: list[Story], part: Part) -> set[str]:
    return {one.words for story in stories for one in story.signals if one.part is part}


def test_modes_are_shown_where_they_change() -> None:
    for name in ("set_up_mode.yaml", "jog_mode.yaml"):
        stories = twin(name)
        assert stories
        for story in stories:
            for one in story.signals:
                if one.part is Part.MODE:
                    assert one.words.startswith("mode ")


def test_each_twin_has_a_story_of_its_own_devices() -> None:
    for name in ("two_zones.yaml", "guard_locking.yaml", "heat_switch.yaml"):
        stories = twin(name)
        assert stories
        names = {course.name for story in stories for course in story.courses}
        for said in words(stories, Part.DEMAND):
            assert said.removesuffix(" demands the stop") in names


def test_a_guard_that_is_freed_too_soon_shows_its_lock_and_the_shaft() -> None:
    effects = words(twin("guard_locking.yaml"), Part.EFFECT)
    assert {"chamber guard is locked", "shaft shows standstill"} <= effects
