"""The list of inputs in a report, as a file within the PDF: programs read it, the page of inputs prints the same."""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import Any, Final

from pyhanko.pdf_utils.reader import PdfFileReader
from reportlab.pdfbase.pdfdoc import PDFArray, PDFDictionary, PDFName, PDFStream, PDFString, PDFZCompress

from interlock.errors import EvidenceError
from interlock.evidence.atomic import read_whole

__all__ = ["Listed", "attach", "listed_in"]

_NAME: Final = "inputs.json"


@dataclass(frozen=True, slots=True)
class Listed:
    """One input as the report names it."""

    path: str
    role: str
    sha256: str


def attach(document: Any, inputs: Iterable[Mapping[str, Any]]) -> None:
    """Put the list into a document of reportlab, as an embedded file (ISO 32000-1, 7.11.4)."""
    rows = [
        {"path": item["path"], "role": item.get("role") or "input", "sha256": item["sha256"]}
        for item in inputs
    ]
    content = json.dumps(rows, indent=1).encode("ascii")
    kind = PDFDictionary({"Type": PDFName("EmbeddedFile")})
    packed = PDFStream(kind, content, [PDFZCompress])  # so that no path in it can look like a part of a PDF
    stream = document.Reference(packed, "inputsStream")
    name = PDFString(_NAME)
    file = {"Type": PDFName("Filespec"), "F": name, "UF": name, "EF": PDFDictionary({"F": stream})}
    pair = PDFArray([name, document.Reference(PDFDictionary(file), "inputsFile")])
    document.Catalog.Names = PDFDictionary({"EmbeddedFiles": PDFDictionary({"Names": pair})})


def listed_in(report: Path) -> tuple[Listed, ...]:
    """The inputs that a report lists; EvidenceError if it holds no list, as reports of earlier states do not."""
    data = read_whole(report)
    try:
        _, file = PdfFileReader(BytesIO(data)).root["/Names"]["/EmbeddedFiles"]["/Names"]
        return tuple(Listed(**row) for row in json.loads(file.get_object()["/EF"]["/F"].data))
    except Exception as error:  # a PDF of another writer may hold anything there
        raise EvidenceError(
            f"{report}: it holds no list of its inputs that a program can read; compare the SHA-256 of each file "
            "with its page 'Inputs' by hand"
        ) from error
