"""The report as a PDF: a view of the results' JSON, the same bytes for the same material and time."""

import hashlib
import json
from collections.abc import Callable
from dataclasses import asdict
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path
from typing import Any, Final

from reportlab.lib.colors import HexColor
from reportlab.platypus import BaseDocTemplate, Flowable, PageTemplate, Spacer

from interlock.errors import EvidenceError
from interlock.evidence import (
    closing,
    coast_pages,
    decision_pages,
    discharge_pages,
    fault_pages,
    front,
    judged,
    open_points,
    rating_pages,
    repeat_pages,
    temperature_pages,
    timing_pages,
)
from interlock.evidence.atomic import read_whole, write_whole
from interlock.evidence.attached import attach
from interlock.evidence.fonts import HEAD, TEXT, fit, register, width
from interlock.evidence.marks import DEMO_LINE, keywords
from interlock.evidence.material import Material, ReportMaterial, read
from interlock.evidence.numbered import Numbered, text_frame
from interlock.evidence.style import LINE, MARGIN, MUTED, PAGE, WIDTH

__all__ = ["report_bytes", "write_report"]

_ALARM: Final = HexColor(0x8C1C13)
_PDF_VERSION: Final = (1, 7)  # ISO 32000-1; signing then needs no change of the catalog's version


def write_report(path: Path, material: ReportMaterial, *, made_at: datetime) -> Path:
    """Write the report to `path` in one step; returns the path.

    The same material and time give the same bytes (with the same versions of reportlab and zlib).
    Raises EvidenceError if the material is incomplete or contradicts itself, or if a signed document stands at the
    path; nothing is written then.
    """
    if Path(path).is_file() and b"/ByteRange" in read_whole(Path(path)):
        raise EvidenceError(f"{path}: a signed document stands there and is not overwritten; name a new file")
    write_whole(Path(path), report_bytes(material, made_at=made_at))
    return Path(path)


def report_bytes(raw: ReportMaterial, *, made_at: datetime) -> bytes:
    """The report's bytes. `made_at` must know its time zone; it is printed in UTC."""
    if made_at.tzinfo is None:
        raise EvidenceError("the report's time has no time zone; give one, such as UTC")
    material = read(raw)
    register()
    return _Build(material, made_at, _basis(raw, made_at)).run()


def _basis(raw: ReportMaterial, made_at: datetime) -> bytes:
    try:
        text = json.dumps([asdict(raw), made_at.isoformat()], sort_keys=True)
    except (TypeError, ValueError) as error:
        raise EvidenceError(f"the report's material is not JSON ({error}); make the results anew") from error
    return text.encode("utf-8", "surrogatepass")


_PROOF: Final = (
    judged.requirements,
    judged.findings,
    timing_pages.pictures,
    repeat_pages.repeats,
    coast_pages.coast_downs,
    discharge_pages.discharges,
    temperature_pages.temperatures,
    decision_pages.decisions,
    judged.chain,
    fault_pages.faults,
)


def _story(material: Material, made_at: datetime) -> list[Flowable]:
    parts: list[Callable[[Material], list[Flowable]]] = [
        front.verdicts,
        front.in_short,
        front.cautions,
        open_points.not_shown,
        *(() if material.is_rating_alone else _PROOF),
        rating_pages.rating,
        closing.remarks,
        closing.inputs,
    ]
    story = front.title(material, made_at)
    for part in parts:
        story += part(material)
    return [*story, Spacer(0, 10), *closing.signatures(material)]


class _Build:
    """The story laid out on pages."""

    def __init__(self, material: Material, made_at: datetime, basis: bytes) -> None:
        self.material = material
        self.made_at = made_at.astimezone(UTC)
        self.basis = basis

    def run(self) -> bytes:
        out = BytesIO()
        document = BaseDocTemplate(out, pagesize=PAGE, invariant=1, lang="en", **self._metadata())
        document.addPageTemplates(PageTemplate(frames=[text_frame()]))
        document.build(_story(self.material, self.made_at), canvasmaker=self._canvas)
        return out.getvalue()

    def _metadata(self) -> dict[str, str]:
        bench = self.material.bench
        return {
            "title": f"Safety chain of {bench.text('name')}",
            "author": f"interlock {self.material.raw.software}",
            "subject": f"Bench fingerprint {bench.text('fingerprint')}",
            "creator": f"interlock {self.material.raw.software}",
            "keywords": keywords(demo=self.material.raw.demo),
        }

    def _canvas(self, *args: Any, **options: Any) -> Any:
        own = {"pdfVersion": _PDF_VERSION, "initialFontName": TEXT}
        canvas = Numbered(*args, margins=self._dress, **{**options, **own})
        canvas.setDateFormatter(lambda *_now: f"D:{self.made_at:%Y%m%d%H%M%S}+00'00'")
        # the document's id: of the material and time alone, not of the environment
        canvas._doc.signature = hashlib.md5(self.basis, usedforsecurity=False)
        attach(canvas._doc, self.material.raw.inputs)
        return canvas

    def _dress(self, canvas: Any, page: str) -> None:
        canvas.saveState()
        _header(canvas, self.material)
        _footer(canvas, self.material, self.made_at, page)
        canvas.restoreState()


def _header(canvas: Any, material: Material) -> None:
    top = PAGE[1] - 13 * 72 / 25.4
    if material.raw.demo:
        canvas.setFillColor(_ALARM)
        canvas.rect(0, PAGE[1] - 18, PAGE[0], 18, stroke=0, fill=1)
        canvas.setFillColorRGB(1, 1, 1)
        canvas.setFont(HEAD, 8.5)
        canvas.drawCentredString(PAGE[0] / 2, PAGE[1] - 12.5, DEMO_LINE)
    canvas.setFillColor(MUTED)
    canvas.setFont(TEXT, 7.5)
    right = f"fingerprint {material.bench.text('fingerprint')[:16]}"
    canvas.drawRightString(PAGE[0] - MARGIN, top, fit(right, 160, 7.5))
    canvas.drawString(MARGIN, top, fit(f"Safety chain of {material.bench.text('name')}", WIDTH - 180, 7.5))
    canvas.setStrokeColor(LINE)
    canvas.setLineWidth(0.5)
    canvas.line(MARGIN, top - 5, PAGE[0] - MARGIN, top - 5)


def _footer(canvas: Any, material: Material, made_at: datetime, page: str) -> None:
    base = 11 * 72 / 25.4
    canvas.setStrokeColor(LINE)
    canvas.setLineWidth(0.5)
    canvas.line(MARGIN, base + 11, PAGE[0] - MARGIN, base + 11)
    canvas.setFont(TEXT, 7.5)
    canvas.setFillColor(MUTED)
    middle = DEMO_LINE if material.raw.demo else "Defer to local codes, the standards and licensed practice."
    start = (PAGE[0] - width(middle, 7.5)) / 2
    canvas.drawString(start, base, middle)
    left = f"interlock {material.raw.software}, {made_at:%Y-%m-%d %H:%M} UTC"
    canvas.drawString(MARGIN, base, fit(left, start - MARGIN - 8, 7.5))
    canvas.drawRightString(PAGE[0] - MARGIN, base, page)
    if material.rating is not None:
        canvas.drawCentredString(PAGE[0] / 2, base - 10, rating_pages.FOOTER)
