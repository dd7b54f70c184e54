"""The report's last pages: remarks, inputs with their digests, how to read it, and the lines to sign on."""

from typing import Final

from reportlab.platypus import Flowable, KeepTogether, Spacer, Table

from interlock.evidence.fields import Fields
from interlock.evidence.material import Material
from interlock.evidence.style import INK, LINE, MUTED, WIDTH, bullet, facts, head, heading, note, pieces, said
from interlock.evidence.words import SHORT

__all__ = ["inputs", "remarks", "signatures"]

SIGNERS: Final = ("Tester", "Safety officer")

_MEANT: Final = (
    "The tester signs that the bench was tested as the inputs record it and that the description is true to it.",
    "The safety officer signs that the whole report was read, what was not shown included.",
)

_ELECTRONIC: Final = (
    "Electronic signatures, where there are any, are in the file itself and cover every byte of it. This "
    "page cannot show whether they hold: `interlock verify` does. They carry no trusted time stamp (PAdES, "
    "level B-B): their time is the claim of the signer's own clock."
)


def remarks(material: Material) -> list[Flowable]:
    """What the tester wanted to be said; nothing if nothing was."""
    text = material.raw.remarks.strip()
    return [*heading("Remarks"), *(said(part, keep_lines=True) for part in pieces(text))] if text else []


def inputs(material: Material) -> list[Flowable]:
    """Every file that went in, with its SHA-256, and how much of each log was read."""
    title = heading("Inputs")
    rows = [_input(Fields.of(item, f"inputs[{i}]")) for i, item in enumerate(material.raw.inputs)]
    sources = (
        [] if material.replay is None else [_source(item) for item in material.replay.objects("sources")]
    )
    read = [note("What was read of each log:"), *(bullet(text) for text in sources)] if sources else []
    lead = note(
        "A file with another digest is another file, and nothing in this report is about it. `interlock verify` "
        "compares the files that are named after the report with this list, which the PDF holds as inputs.json too."
    )
    return [*title, lead, facts(rows, 110), *read] if rows else [*title, note("No inputs are listed."), *read]


def _input(item: Fields) -> tuple[str, str]:
    role = item.text("role") or "input"
    return role, f"{item.need('path')}: SHA-256 {item.need('sha256')}"


def _source(item: Fields) -> str:
    skip = ("path", "sha256")
    counts = [f"{key.replace('_', ' ')} {item.loose(key)}" for key in item.raw if key not in skip]
    return f"{item.text('path')}: {', '.join(counts)}"


def signatures(material: Material) -> list[Flowable]:
    """What the signers sign for, and empty lines for the tester and the safety officer."""
    gap = 26.0
    cells = [[head(name) for name in ("", "Name", "Place and date", "Signature")]]
    cells += [[head(role), "", "", ""] for role in SIGNERS]
    style = [
        ("VALIGN", (0, 0), (-1, -1), "BOTTOM"),
        ("LEFTPADDING", (0, 0), (-1, -1), 3),
        ("LINEBELOW", (1, 1), (-1, -1), 0.6, INK),
        ("LINEBELOW", (0, 0), (-1, 0), 0.4, LINE),
        ("TEXTCOLOR", (0, 0), (-1, 0), MUTED),
    ]
    widths = [86, (WIDTH - 86) * 0.34, (WIDTH - 86) * 0.28, (WIDTH - 86) * 0.38]
    table = Table(cells, colWidths=widths, rowHeights=[16, *[gap + 8] * len(SIGNERS)], style=style)
    block = [
        *heading("Signatures")[1:],
        said(_signed_for(material)),
        *(bullet(text) for text in _MEANT),
        table,
    ]
    return [KeepTogether([*block, Spacer(0, 6), note(_ELECTRONIC)])]


def _signed_for(material: Material) -> str:
    bench, rated = material.bench, ""
    if material.rating is not None:
        rated = f"; on the rating: {SHORT[material.rating.verdict]}"
    return (
        f"For bench {bench.text('id')} of fingerprint {bench.text('fingerprint')}; verdict on the chain as "
        f"built: {SHORT[material.chain_verdict]}; on the recorded traces: {SHORT[material.trace_verdict]}{rated}."
    )
