"""A counterexample as text: the state of every device after each act, and a timing picture in plain characters."""

from collections.abc import Iterator, Sequence
from textwrap import wrap
from typing import Final

from interlock.chain import Signal, Story

__all__ = ["story_lines"]

_LABEL: Final = 42  # columns for the words of a signal, at most
_STEP: Final = (3, 6)  # columns from one act to the next, at least and at most


def story_lines(story: Story, width: int) -> Iterator[str]:
    """The story in lines of at most `width` columns, as far as single words allow."""
    yield "States of the devices. Each holds from the act of its number on; 0 is power-up."
    moving = [one for one in story.courses if one.moves]
    label = max((len(one.name) for one in moving), default=0)
    for one in moving:
        yield from _hung(
            f"  {one.name:<{label}}  ", " | ".join(f"{at} {state}" for at, state in one.stretches), width
        )
    still = [f"{one.name}: {one.states[0]}" for one in story.courses if not one.moves]
    if still:
        yield from _hung(f"  {'no change':<{label}}  ", "; ".join(still), width)
    yield "Timing, one column an act: '_' no, '-' yes."
    yield from _picture(story, width)


def _hung(label: str, text: str, width: int) -> list[str]:
    return wrap(text, width, initial_indent=label, subsequent_indent=" " * len(label), break_long_words=False)


def _picture(story: Story, width: int) -> Iterator[str]:
    """The signals as lines that run low or high, cut into bands where there are too many acts for one."""
    label = min(_LABEL, max((len(one.words) for one in story.signals), default=0))
    room = width - label - 4
    step = min(_STEP[1], max(_STEP[0], room // story.moments))
    most = max(1, room // step)
    for first in range(0, story.moments, most):
        columns = range(first, min(first + most, story.moments))
        yield f"  {'':<{label}}  {''.join(f'{at:<{step}}' for at in columns)}".rstrip()
        for one in story.signals:
            yield f"  {_short(one.words, label):<{label}}  {_line(one, columns, step)}"


def _short(words: str, length: int) -> str:
    return words if len(words) <= length else f"{words[: length - 3]}..."


def _line(one: Signal, columns: Sequence[int], step: int) -> str:
    """An edge stands in the first place of the column of the act that makes it."""
    told = ""
    for at in columns:
        now, was = one.high[at], one.high[max(at - 1, 0)]
        level = "-" if now else "_"
        told += (level if now == was else "/" if now else "\\") + level * (step - 1)
    return told
