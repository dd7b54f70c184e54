"""What was not shown: the part of a report that matters most to whoever must decide."""

from typing import Final

from reportlab.platypus import Flowable

from interlock.evidence.fault_rows import excluded
from interlock.evidence.material import Finding, Material, Property, Quality
from interlock.evidence.style import bullet, fixed, heading
from interlock.evidence.words import effect_words, instant
from interlock.verdict import Verdict

__all__ = ["LIMITS_OF_THE_WORK", "not_shown"]

FAULTS_NOT_JUDGED: Final = (
    "Component faults (a welded contact, a short between channels, a broken wire, a drive that ignores its "
    "torque-off input) unless a property or finding above names them."
)
FAULTS_LEFT: Final = (
    "Component faults that neither the kinds of the devices nor the wiring name, and more of them at a time than "
    "the section on faults says."
)
LIMITS_OF_THE_WORK: Final = (
    "Whether the wiring in the cabinet is the wiring in the bench description. Only a person with the "
    "drawings at the bench can say so.",
    FAULTS_NOT_JUDGED,
    "Anything before the first frame, after the last one, or between two samples beyond what the intervals "
    "allow for.",
    "Wear, later changes and other benches: the verdicts hold for the fingerprint and the files listed here.",
)

_EXCLUDED: Final = ("faults_not_covered", "not_covered")
_ASSUMED: Final = ("assumptions", "notes")


def not_shown(material: Material) -> list[Flowable]:
    """Everything that is open: not observed, inconclusive, bad data, exclusions, faults not covered."""
    groups = (
        ("Work that was not done", _undone(material)),
        ("Not observed: never exercised, so nothing is known", _of(material, Verdict.NOT_OBSERVED)),
        ("Inconclusive: the data do not decide", _of(material, Verdict.INCONCLUSIVE)),
        ("Flaws in the data", [_flaw(item) for item in material.quality]),
        ("Exclusions and faults not covered, as the results state them", _left_out(material)),
        ("What the verdicts take for granted, as the results state it", _stated(material, _ASSUMED)),
        ("Outside this work, always", _limits(material)),
    )
    out = heading("What was not shown")
    for name, items in groups:
        if items:
            out += [*_subheading(name), *(bullet(text) for text in items)]
    return out


def _subheading(name: str) -> list[Flowable]:
    line = fixed(f"<b>{name}</b>", 7.8)
    line.keepWithNext = 1
    return [line]


def _undone(material: Material) -> list[str]:
    out = []
    if material.check is None:
        out.append("The chain was not checked, so no wiring mistake could show itself.")
    elif material.check.raw.get("whole") is False:
        out.append("Not every state that the bench can reach was explored.")
    if material.replay is None and material.rating is not None and material.rating.stops:
        out.append(
            "The log served for the measured stop and discharge alone; no other effect on it was judged."
        )
    elif material.replay is None:
        out.append("No trace was judged, so no effect was seen on the bench itself.")
    return out


def _of(material: Material, verdict: Verdict) -> list[str]:
    out = [_property(item) for item in material.properties if item.verdict is verdict]
    out += [
        f"Rating, {part.name}: {one.sentence}"
        for part in (() if material.rating is None else material.rating.parts)
        for one in part.judged
        if one.verdict is verdict
    ]
    return out + [_finding(item) for item in material.findings if item.verdict is verdict]


def _property(item: Property) -> str:
    return f"Chain, {item.title}: {item.sentence}"


def _finding(item: Finding) -> str:
    about = f"{item.function}, {effect_words(item.effect)}, {item.subject}".rstrip(", ")
    return f"Finding {item.number}, {about}: {item.sentence}"


def _flaw(item: Quality) -> str:
    facts = [item.about] if item.about else []
    facts += [item.place] if item.place else []
    facts += [f"time {instant(item.span)}"] if item.span is not None else []
    facts += {"": [], "no": [], "yes": ["blinds what it touches"]}.get(item.blinds, [f"blinds {item.blinds}"])
    return f"{item.kind.replace('_', ' ')}: {item.sentence}" + (f" ({'; '.join(facts)})" if facts else "")


def _left_out(material: Material) -> list[str]:
    own = [] if material.check is None else list(excluded(material.check))
    return own + _stated(material, _EXCLUDED)


def _limits(material: Material) -> list[str]:
    """The limits of the work; where faults were judged, only those that were not."""
    judged = material.check is not None and "fault_search" in material.check
    return [FAULTS_LEFT if judged and text == FAULTS_NOT_JUDGED else text for text in LIMITS_OF_THE_WORK]


def _stated(material: Material, keys: tuple[str, ...]) -> list[str]:
    parts = [part for part in (material.check, material.replay) if part is not None]
    return [text for part in parts for key in keys for text in part.words(key)]
