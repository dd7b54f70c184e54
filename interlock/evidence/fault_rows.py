"""The results under faults read from a check's JSON, in words for the report."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from interlock.chain import Story
from interlock.evidence.fields import Fields
from interlock.evidence.story_rows import Step, read_steps, read_story

__all__ = [
    "CategoryRow",
    "ClearedRow",
    "Clearings",
    "FaultRow",
    "FaultRows",
    "MaskingRow",
    "excluded",
    "read_faults",
]


@dataclass(frozen=True, slots=True)
class FaultRow:
    """One fault, or one set of faults: what comes of it, whether it is noticed, an example."""

    words: str
    size: int
    lost: tuple[str, ...]
    restarts: tuple[str, ...]
    breaks: tuple[str, ...]  # rules beside the functions' effects
    detected: bool
    minimal: bool
    harm: str
    noticed: str
    sentence: str
    steps: tuple[Step, ...]
    length: int  # steps after power-up
    story: Story | None

    @property
    def order(self) -> str:
        """Of several faults: whether they can add up."""
        if self.noticed == _UNKNOWN:
            return _UNKNOWN
        return "one of them before the next can come" if self.detected else "NO: they can add up unnoticed"


@dataclass(frozen=True, slots=True)
class CategoryRow:
    """What the structure can carry for a function or one effect of it, and the sentences that carry the claim."""

    of: str
    carried: str
    reasons: tuple[str, ...]
    function: str = ""
    title: str = ""


@dataclass(frozen=True, slots=True)
class ClearedRow:
    """A fault whose going away does harm, beside another one or alone, and how."""

    words: str
    restarts: tuple[str, ...]
    sentence: str
    steps: tuple[Step, ...]
    story: Story | None


@dataclass(frozen=True, slots=True)
class Clearings:
    """How faults that go away by themselves were searched, and what was found."""

    sentence: str
    found: tuple[ClearedRow, ...]
    whole: bool


@dataclass(frozen=True, slots=True)
class MaskingRow:
    """Guards in series at one logic device: what may be claimed for their contacts, and why."""

    guards: str
    method: str
    level: str
    coverage: str
    best: str
    sentence: str


@dataclass(frozen=True, slots=True)
class FaultRows:
    """All that a check found under faults."""

    sentence: str
    single: tuple[FaultRow, ...]
    several: tuple[FaultRow, ...]
    categories: tuple[CategoryRow, ...]
    exclusions: tuple[str, ...]
    cleared: Clearings | None
    beside: Clearings | None  # the same while a lasting fault is there too
    both: Clearings | None  # two that come and go; None also of older results
    masking: tuple[MaskingRow, ...] | None  # None: older results do not tell


_UNKNOWN: Final = "not verified"


def read_faults(check: Fields) -> FaultRows | None:
    """The fault part of a check; None if faults were not judged. Raises EvidenceError for a wrong entry."""
    if "fault_search" not in check:
        return None
    rows = tuple(map(_fault, check.objects("faults")))
    return FaultRows(
        Fields.of(check.get("fault_search"), f"{check.where}.fault_search").need("sentence"),
        tuple(one for one in rows if one.size == 1),
        tuple(one for one in rows if one.size > 1),
        tuple(map(_category, check.objects("categories"))),
        excluded(check),
        _clearings(check, "clearing"),
        _clearings(_within(check, "clearing"), "beside"),
        _clearings(_within(check, "clearing"), "both"),
        tuple(map(_masking, check.objects("masking"))) if "masking" in check else None,
    )


def _masking(row: Fields) -> MaskingRow:
    """A row; results of earlier versions name the guards by id and tell neither method nor level."""
    names = f"{', '.join(row.words('guards'))} at {row.need('logic')}"
    return MaskingRow(
        row.need("words") if "words" in row else names,
        row.need("method") if "method" in row else "simplified",
        f"{row.number('level') or '?'} of 3",
        row.need("dc"),
        f"PL {row.need('max_pl')}" if "max_pl" in row else "?",
        row.need("sentence"),
    )


def _within(fields: Fields, name: str) -> Fields:
    return Fields.of(fields.get(name) if name in fields else {}, f"{fields.where}.{name}")


def _clearings(fields: Fields, name: str) -> Clearings | None:
    if name not in fields:
        return None
    told = _within(fields, name)
    return Clearings(
        told.need("sentence"), tuple(map(_cleared, told.objects("found"))), whole=bool(told.get("whole"))
    )


def _cleared(row: Fields) -> ClearedRow:
    beside = row.text("beside_words")
    words = f"{row.need('words')}, WHILE ALSO {beside}" if beside else row.need("words")
    words = row.text("title") or words  # older results have none
    sentence, restarts = row.need("sentence"), row.words("restarts")
    return ClearedRow(words, restarts, sentence, read_steps(row), read_story(row))


def excluded(check: Fields) -> tuple[str, ...]:
    """Each fault that the bench file leaves out of account, with its reason and source; plain words as they are."""
    items = zip(check.items("exclusions"), check.words("exclusions"), strict=True)
    return tuple(
        _excluded(Fields.of(item, f"{check.where}.exclusions[{at}]")) if isinstance(item, Mapping) else words
        for at, (item, words) in enumerate(items)
    )


def _excluded(row: Fields) -> str:
    return f"{row.need('words')} ({row.need('fault')}). Reason given: {row.need('reason')} [{row.need('source')}]"


def _fault(row: Fields) -> FaultRow:
    lost, restarts = row.words("lost"), row.words("restarts")
    said = [f"loses {', '.join(lost)}"] if lost else []
    starts = row.words("starts") if "starts" in row else restarts  # older results tell the units by id only
    said += [f"may start the {' and the '.join(starts)} unasked"] if starts else []
    breaks = row.words("breaks") if "breaks" in row else ()  # older results do not tell
    said += breaks
    verified, detected = bool(row.get("verified")), bool(row.get("detected"))
    star = " *" if row.get("masked") else ""
    at = row.text("at")
    late = f"NOT before it does harm; {at}" if at else "NOT noticed"
    noticed = f"{at or 'yes'}{star}" if detected else late if verified else _UNKNOWN
    return FaultRow(
        words=" AND ".join(row.words("words")),
        size=len(row.items("set")),
        lost=lost,
        restarts=restarts,
        breaks=breaks,
        detected=detected,
        minimal=bool(row.get("minimal")),
        harm="; ".join(said) or ("loses nothing" if verified else _UNKNOWN),
        noticed=noticed,
        sentence=row.text("sentence"),
        steps=read_steps(row),
        length=row.number("steps") or 0,
        story=read_story(row),
    )


def _category(row: Fields) -> CategoryRow:
    effect = row.text("effect").replace("_", " ")
    of = f"{row.need('function')}: {effect}" if effect else f"{row.need('function')}, as a whole"
    carried = ", ".join(row.words("categories")) or "none shown"
    return CategoryRow(of, carried, row.words("sentences"), row.need("function"), row.text("title"))
