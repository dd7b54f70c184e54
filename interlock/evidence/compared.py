"""Files at hand against the SHA-256 sums in a signed report: the same, another one of that name, or none of it."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from enum import StrEnum
from pathlib import Path
from typing import Any

from interlock.evidence.atomic import sha256_of
from interlock.evidence.attached import Listed, listed_in
from interlock.verdict import Verdict, worst

__all__ = ["Compared", "Comparison", "Match", "compare_files"]


class Match(StrEnum):
    """What a file is, as the report has it."""

    SAME = "same as in the report"
    DIFFERS = "differs"
    NOT_IN_REPORT = "not in the report"


@dataclass(frozen=True, slots=True)
class Compared:
    """One file that was given; `listed`: the input that it is, or the one of the same name that it is not."""

    file: str
    sha256: str
    match: Match
    listed: Listed | None


@dataclass(frozen=True, slots=True)
class Comparison:
    """Every file that was given, and every input of the report that none of them is."""

    files: tuple[Compared, ...]
    not_given: tuple[Listed, ...]

    @property
    def verdict(self) -> Verdict:
        """fail: a file is not one of the report's; not observed: a log of the report was not given."""
        strange = [Verdict.FAIL for one in self.files if one.match is not Match.SAME]
        missing = [Verdict.NOT_OBSERVED for one in self.not_given if one.role == "log"]
        return worst([Verdict.PASS, *strange, *missing])

    def as_json(self) -> dict[str, Any]:
        """The entries `files` and `not_given` of the document that `verify --json` prints."""
        return asdict(self)


def compare_files(report: Path, files: Sequence[Path]) -> Comparison:
    """Each file by its SHA-256, whatever it is called now; raises EvidenceError for one that cannot be read.

    The report must have been verified: of a changed one the list says nothing.
    """
    listed = listed_in(report)
    found = tuple(_compared(file, listed) for file in files)
    seen = {one.sha256 for one in found}
    return Comparison(found, tuple(one for one in listed if one.sha256 not in seen))


def _compared(file: Path, listed: Sequence[Listed]) -> Compared:
    own = sha256_of(file)
    for one in listed:
        if one.sha256 == own:
            return Compared(str(file), own, Match.SAME, one)
    for one in listed:
        if Path(one.path).name == file.name:
            return Compared(str(file), own, Match.DIFFERS, one)
    return Compared(str(file), own, Match.NOT_IN_REPORT, None)
