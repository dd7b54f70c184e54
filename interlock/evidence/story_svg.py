"""A counterexample as one SVG file: what is wrong, the acts, the timing picture, the state of every device."""

import re
from collections.abc import Iterator, Sequence
from typing import Final

from reportlab.graphics import renderSVG
from reportlab.graphics.shapes import Drawing, Group, String
from reportlab.lib.utils import simpleSplit

from interlock.chain import Act, CheckResult, Cleared, Pairs, Story
from interlock.evidence.fonts import visible
from interlock.evidence.story_pictures import COLUMNS_AT_MOST, timing, timing_height
from interlock.evidence.style import INK, MUTED

__all__ = ["story_svg", "story_svgs"]

_FONT: Final = "Helvetica"  # what every viewer has, or has the like of
_WIDTH, _MARGIN = 760.0, 16.0
_INNER: Final = _WIDTH - 2 * _MARGIN
_LINE: Final = 12.0
_SPARE: Final = 0.8  # a viewer without this font takes a wider one
_FOREIGN: Final = re.compile(r"<!DOCTYPE[^>]*>\s*|\s*<(title|desc)>\.\.\.</\1>")


def story_svgs(result: CheckResult) -> Iterator[tuple[str, str]]:
    """File name and SVG document of each counterexample: of properties, of fault sets, of faults that go away."""
    for rule in result.properties:
        if rule.story is not None:
            name = ".".join(filter(None, (rule.id, rule.function, rule.subject)))
            yield f"{name}.svg", story_svg(rule.title, rule.sentence, _told(rule.acts), rule.story)
    for fault in () if result.report is None else result.report.faults:
        if fault.story is not None and (len(fault.set) == 1 or fault.minimal):
            title = " AND ".join(fault.words)
            name = f"fault.{'+'.join(fault.set)}.svg"
            yield name, story_svg(title, fault.sentence, _told(fault.acts), fault.story)

    clearing = result.clearing
    for one in (
        () if clearing is None else (*clearing.found, *_pairs(clearing.beside), *_pairs(clearing.both))
    ):
        both = "+".join(filter(None, (one.fault, one.beside, "both" if one.passing else "")))
        yield f"clearing.{both}.svg", story_svg(one.title, one.sentence, _told(one.acts), one.story)


def _pairs(pairs: Pairs | None) -> tuple[Cleared, ...]:
    return () if pairs is None else pairs.found


def _told(acts: Sequence[Act]) -> list[str]:
    return [f"{one.words} ({'; '.join(one.changes)})" if one.changes else one.words for one in acts]


def story_svg(title: str, sentence: str, acts: Sequence[str], story: Story) -> str:
    """The SVG document; `acts` in words, in their order, as many as the story has columns after power-up."""
    above = [(title, 11.0), (sentence, 9.0), *_numbered(acts)]
    below = [(text, 8.0) for text in _states(story)]
    pictures = [timing(story, at, _INNER, _FONT) for at in range(0, story.moments, COLUMNS_AT_MOST)]
    upper, lower = list(_lines(above)), list(_lines(below))
    height = 2 * _MARGIN + _LINE * (len(upper) + len(lower) + 3)
    height += len(pictures) * (timing_height(story) + _LINE)
    sheet = Drawing(_WIDTH, height)
    top = _written(sheet, upper, height - _MARGIN) - _LINE
    for picture in pictures:
        top -= picture.height
        sheet.add(Group(*picture.contents, transform=(1, 0, 0, 1, _MARGIN, top)))
        top -= _LINE
    note = (
        "Up: it holds. A column begins with its act; 0 is power-up. Shaded: where the requirement is broken."
    )
    top = _written(sheet, [(note, 7.5)], top)
    _written(sheet, lower, top - _LINE)
    text: str = renderSVG.drawToString(sheet)
    text = text.replace(f"font-family: {_FONT};", f"font-family: {_FONT}, Arial, sans-serif;")
    return _FOREIGN.sub("", text)  # no name of a file elsewhere that a reader might fetch


def _numbered(acts: Sequence[str]) -> Iterator[tuple[str, float]]:
    for number, act in enumerate(acts, 1):
        yield f"{number}.  {act}", 9.0


def _states(story: Story) -> Iterator[str]:
    yield "States of the devices, each from the act of its number on:"
    for one in story.courses:
        yield f"{one.name}:  " + "  |  ".join(f"{at} {state}" for at, state in one.stretches)


def _lines(texts: Sequence[tuple[str, float]]) -> Iterator[tuple[str, float]]:
    for text, size in texts:
        for line in simpleSplit(visible(text), _FONT, size, _INNER * _SPARE):
            yield line, size


def _written(sheet: Drawing, lines: Sequence[tuple[str, float]], top: float) -> float:
    """The lines from the top down; where the next one would end."""
    for text, size in lines:
        top -= _LINE
        ink = INK if size > 8 else MUTED
        sheet.add(String(_MARGIN, top, text, fontName=_FONT, fontSize=size, fillColor=ink))
    return top
