"""The file as bytes: one revision a signature, each signature covering all up to its revision's end.

Nothing here trusts a PDF parser. A signed report has exactly one shape: the document as it was written, then
for each signature one appended revision that ends where that signature's ByteRange ends; the last one ends
where the file ends (PDF: ISO 32000-1, 7.5.6 and 12.8.1). General verifiers accept more; this suite does not.
"""

import re
from dataclasses import dataclass
from typing import Final

from interlock.evidence.refusal import Refused

__all__ = ["Revision", "split"]

_HEADER: Final = b"%PDF-1.7\n"
_END: Final = b"%%EOF\n"
_RANGE: Final = re.compile(rb"/ByteRange \[0 ([1-9][0-9]{0,11}) ([1-9][0-9]{0,11}) ([1-9][0-9]{0,11})\]")
_HOLE: Final = re.compile(rb"<([0-9A-F]+)>")


@dataclass(frozen=True, slots=True)
class Revision:
    """One signature's stretch of the file: what it covers, and what stands in its hole."""

    start: int
    end: int  # of the stretch, and of what the signature covers
    hole: tuple[int, int]  # the only bytes up to `end` that the signature does not cover
    contents: bytes  # the hole's bytes: a DER value, then zeros

    @property
    def byte_range(self) -> tuple[int, int, int, int]:
        """As the signature states it: offset and length, twice."""
        return (0, self.hole[0], self.hole[1], self.end - self.hole[1])

    def covered(self, data: bytes) -> tuple[memoryview, memoryview]:
        """The two pieces of the file that the signature covers."""
        view = memoryview(data)
        return view[: self.hole[0]], view[self.hole[1] : self.end]


def split(data: bytes) -> tuple[Revision, ...]:
    """The revisions of a signed report in their order; raises Refused for any other shape."""
    if not data:
        raise Refused("the file is empty")
    if not data.startswith(_HEADER):
        raise Refused("the file does not begin as a report does: something stands before it, or it is none")
    ends = _section_ends(data)
    ranges = list(_RANGE.finditer(data))
    if data.count(b"/ByteRange") != len(ranges):
        raise Refused("a signature does not state what it covers in the way in which this suite writes it")
    if not ranges:
        raise Refused("the file carries no signature")
    if len(ends) != len(ranges) + 1:
        raise Refused(
            f"the file has {len(ends) - 1} revisions after the document but {len(ranges)} signatures; "
            "each revision must be a signature's own"
        )
    starts = zip(ends, ends[1:], ranges, strict=False)
    return tuple(_revision(data, start, end, stated) for start, end, stated in starts)


def _section_ends(data: bytes) -> list[int]:
    ends = [found.end() for found in re.finditer(re.escape(_END), data)]
    if data.count(b"%%EOF") != len(ends) or len(re.findall(rb"startxref\n[0-9]+\n%%EOF\n", data)) != len(
        ends
    ):
        raise Refused("an end mark of the file was changed or added")
    if data.count(b"startxref") != len(ends):
        raise Refused("there are other cross-reference sections than one a revision")
    if not ends or ends[-1] != len(data):
        raise Refused("the file does not end with its end mark: something was cut off or added")
    return ends


def _revision(data: bytes, start: int, end: int, stated: re.Match[bytes]) -> Revision:
    before, after, length = (int(number) for number in stated.groups())
    if after + length != end:
        raise Refused("a signature does not cover the file up to the end of its revision")
    if not start < before < after < end or not start < stated.start() < end:
        raise Refused("a signature leaves something uncovered that is not its own value")
    hole = _HOLE.fullmatch(data, before, after)
    if hole is None or len(hole[1]) % 2 or not data.endswith(b"/Contents ", start, before):
        raise Refused("the place of a signature's value holds something else, or is written another way")
    return Revision(start, end, (before, after), bytes.fromhex(hole[1].decode("ascii")))
