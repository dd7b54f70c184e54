"""A register as read: its entries in order, which of them are withdrawn, and the hash to note down."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from pydantic import ValidationError

from interlock.errors import RegisterError
from interlock.register.chain import Row, read_chain
from interlock.register.entries import Entry, Head, Withdrawn

__all__ = ["Register", "read_register"]


@dataclass(frozen=True)
class Register:
    """A whole chain; `sha256` is the hash of its last line."""

    path: str
    head: Head
    entries: tuple[Entry, ...]

    @property
    def sha256(self) -> str:
        """The hash of the last line: noted elsewhere, it shows later that nothing before it was cut or changed."""
        return self.entries[-1].sha256 if self.entries else self.head.sha256

    @cached_property
    def withdrawn(self) -> dict[int, Entry]:
        """By number of the entry that no longer counts: the entry that withdraws it."""
        return {
            entry.content.withdraws: entry for entry in self.entries if isinstance(entry.content, Withdrawn)
        }

    def counting(self, bench_id: str) -> Iterator[Entry]:
        """Entries of one bench that count: neither withdrawn nor withdrawals themselves."""
        for entry in self.entries:
            withdrawal = isinstance(entry.content, Withdrawn)
            if entry.bench.id == bench_id and not withdrawal and entry.entry not in self.withdrawn:
                yield entry

    def number_of(self, sha256: str) -> int | None:
        """The number of the line (0: the head) that has this hash, or None."""
        hashes = [self.head.sha256, *(entry.sha256 for entry in self.entries)]
        return hashes.index(sha256) if sha256 in hashes else None


def read_register(name: str, data: bytes) -> Register:
    """The register in these bytes; RegisterError for the first line that is not as it was written."""
    head, *rows = read_chain(name, data)
    try:
        first = Head.model_validate_json(head.text)
    except ValidationError as error:
        raise _not_by_schema(name, head, error) from None
    return Register(name, first, tuple(_entry(name, row) for row in rows))


def _entry(name: str, row: Row) -> Entry:
    try:
        return Entry.model_validate_json(row.text)
    except ValidationError as error:
        raise _not_by_schema(name, row, error) from None


def _not_by_schema(name: str, row: Row, error: ValidationError) -> RegisterError:
    first = error.errors(include_url=False, include_input=False)[0]
    where = ".".join(map(str, first["loc"]))
    return RegisterError(
        f"{name}:{row.line}: its hash holds, but '{where}' is not as the schema of a register says "
        f"({first['msg']}); restore the file from a copy, or use the software that wrote it"
    )
