"""A counterexample read from a result's JSON: its acts and, where the result has one, its story."""

from dataclasses import dataclass

from interlock.chain import Course, Part, Signal, Story
from interlock.errors import EvidenceError
from interlock.evidence.fields import Fields

__all__ = ["Step", "read_steps", "read_story"]


@dataclass(frozen=True, slots=True)
class Step:
    """One act in words, and what other devices do then."""

    words: str
    changes: tuple[str, ...]


def read_steps(row: Fields) -> tuple[Step, ...]:
    """The entry `acts`: objects, or plain words as older results have them."""
    return tuple(
        Step(words, Fields.of(item, row.where).words("changes") if isinstance(item, dict) else ())
        for words, item in zip(row.words("acts"), row.items("acts"), strict=True)
    )


def read_story(row: Fields) -> Story | None:
    """The entry `story`; None if it is missing or null.

    Raises EvidenceError if its columns are not as many as the acts and power-up.
    """
    if "story" not in row:
        return None
    told = Fields.of(row.get("story"), f"{row.where}.story")
    story = Story(tuple(map(_course, told.objects("devices"))), tuple(map(_signal, told.objects("signals"))))
    due = 1 + len(row.items("acts"))
    columns = [one.states for one in story.courses] + [one.high for one in story.signals]
    if not story.courses or any(len(one) != due for one in columns):
        raise EvidenceError(
            f"{told.where}: {due} columns were expected, one for power-up and one for each act; "
            "make the result anew"
        )
    return story


def _course(row: Fields) -> Course:
    return Course(row.need("device"), row.need("name"), tuple(map(str, row.items("states"))))


def _signal(row: Fields) -> Signal:
    high = tuple(row.items("high"))
    if not all(isinstance(one, bool) for one in high):
        raise EvidenceError(f"{row.where}.high: true or false was expected; make the result anew")
    try:
        return Signal(Part(row.need("part")), row.need("words"), high)
    except ValueError as error:
        raise EvidenceError(f"{row.where}.part: {error}; make the result anew") from error
