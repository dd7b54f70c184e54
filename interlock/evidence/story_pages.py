"""Counterexamples on paper: the acts in order, the state of every device after each, the timing picture."""

from collections.abc import Iterator, Sequence
from typing import Any, Final

from reportlab.platypus import Flowable, KeepTogether, LongTable, Spacer

from interlock.chain import Course, Story
from interlock.evidence.material import Property
from interlock.evidence.story_pictures import COLUMNS_AT_MOST, timing
from interlock.evidence.story_rows import Step
from interlock.evidence.style import GRID, INK, WIDTH, bullet, head, heading, note, shortened, small
from interlock.verdict import Verdict

__all__ = ["ROOM", "counterexamples", "told"]

ROOM: Final = 330.0
"""Points that a counterexample takes as a rule; a heading before it is kept with so much."""

_COLUMNS: Final = 6  # of states, beside each other
_NAME: Final = 74.0
_READING: Final = (
    "Each act, with what other devices do then. In the picture a column begins with its act, 0 is power-up, a "
    "raised line means that the signal holds, and the shaded column is where the requirement is broken. The table "
    "gives the state of each device after each act; a dash means as before."
)


def counterexamples(properties: Sequence[Property]) -> list[Flowable]:
    """Each violation of the chain with the shortest way to it; nothing if there is none."""
    out: list[Flowable] = []
    ways: dict[tuple[str, ...], str] = {}
    for item in properties:
        if item.verdict is not Verdict.FAIL or not (item.steps or item.story is not None):
            continue
        out += [*heading("How each violation comes about", room=ROOM), note(_READING)] if not out else []
        way = tuple(one.words for one in item.steps)
        if way and way in ways:
            out += [
                Spacer(0, 6),
                small(f"{item.title}: {item.sentence} The same acts as above: {ways[way]}."),
            ]
            continue
        ways[way] = item.title
        out += told(f"{item.title}: {item.sentence}", item.steps, item.story)
    return out


def told(sentence: str, steps: Sequence[Step], story: Story | None, *, states: bool = True) -> list[Flowable]:
    """One counterexample: a sentence, its acts, and its story where there is one."""
    out: list[Flowable] = [Spacer(0, 6), *heading_of(sentence)]
    out += [bullet(_step(one), f"{number}.") for number, one in enumerate(steps, 1)]
    if story is None:
        return out
    first, *more = (timing(story, at) for at in range(0, story.moments, COLUMNS_AT_MOST))
    out = [KeepTogether([*out, Spacer(0, 4), first]), *(KeepTogether([one]) for one in more)]
    return [*out, Spacer(0, 4), *_states(story)] if states else out


def heading_of(sentence: str) -> list[Flowable]:
    """The sentence that a counterexample shows, kept with what follows."""
    line = small(sentence)
    line.keepWithNext = 1
    return [line]


def _step(one: Step) -> str:
    return f"{one.words} ({'; '.join(one.changes)})" if one.changes else one.words


def _states(story: Story) -> Iterator[Flowable]:
    moving = [one for one in story.courses if one.moves]
    for first in range(0, story.moments, _COLUMNS) if moving else ():
        columns = range(first, min(first + _COLUMNS, story.moments))
        rows: list[list[Any]] = [[head("Device"), *(head(str(at)) for at in columns)]]
        rows += [
            [small(shortened(one.name)), *(small(_cell(one, at, first)) for at in columns)] for one in moving
        ]
        wide = (WIDTH - _NAME) / _COLUMNS
        style = [
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("LINEABOVE", (0, 0), (-1, 0), 0.6, INK),
            ("LINEBELOW", (0, 0), (-1, -1), 0.3, GRID),
            *((place, (0, 0), (-1, -1), size) for place, size in _PADDING),
        ]
        yield LongTable(
            rows, colWidths=[_NAME, *[wide] * len(columns)], style=style, repeatRows=1, hAlign="LEFT"
        )
        yield Spacer(0, 3)
    still = [f"{one.name}: {one.states[0]}" for one in story.courses if not one.moves]
    if still:
        yield note(f"All the way: {'; '.join(still)}.")


_PADDING: Final = (("LEFTPADDING", 2), ("RIGHTPADDING", 3), ("TOPPADDING", 1.5), ("BOTTOMPADDING", 1.5))


def _cell(one: Course, at: int, first: int) -> str:
    """The state, in full where it is new or a part of the table begins."""
    return one.states[at] if at == first or one.states[at] != one.states[at - 1] else "–"
