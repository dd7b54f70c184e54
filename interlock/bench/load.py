"""From a YAML file to a bench that can be trusted, or to every mistake in it at once."""

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from interlock.bench.consistency import check_bench
from interlock.bench.fingerprint import fingerprint
from interlock.bench.kind import Kind
from interlock.bench.kind_check import check_kinds
from interlock.bench.log_messages import message_files
from interlock.bench.log_names import check_described
from interlock.bench.models import Bench
from interlock.bench.names import names_of
from interlock.bench.refusal import quoted
from interlock.bench.schema import bench_schema
from interlock.bench.structure import read_structure
from interlock.bench.text_file import read_text
from interlock.bench.yaml_compose import compose_own
from interlock.bench.yaml_source import Mistake, YamlSource, read_composed, read_yaml
from interlock.bench.yaml_source import Path as Entry
from interlock.errors import BenchError, InterlockError, Problem

__all__ = [
    "Parsed",
    "bench_fingerprint",
    "bench_schema",
    "builtin_kinds",
    "dbc_path",
    "kinds_of",
    "load_bench",
    "parse_bench",
    "parse_far",
    "read_far",
]

_KINDS_FILES = [Path(__file__).with_name(name) for name in ("kinds.yaml", "kinds_more.yaml")]


@dataclass(frozen=True, slots=True)
class Parsed:
    """A bench file as far as it can be read, and every mistake found in it."""

    source: YamlSource
    bench: Bench | None  # beside mistakes only to look for further ones; None: beyond repair
    mistakes: list[Mistake]

    @property
    def problems(self) -> list[Problem]:
        """All mistakes with their places."""
        return [*self.source.problems, *map(self.source.place, self.mistakes)]

    def doubtful(self, entry: Entry) -> bool:
        """Whether something is wrong with the entry, with a part of it, or with what it is a part of."""
        wrong = (*self.source.broken, *self.source.twice, *(one.path for one in self.mistakes))
        return any(entry[: len(one)] == one[: len(entry)] for one in wrong)

    def sound(self) -> Bench:
        """The bench; raises BenchError with every mistake."""
        problems = self.problems
        if problems or self.source.broken or self.bench is None:
            raise BenchError(problems)
        return self.bench


def load_bench(path: Path) -> Bench:
    """Read and check a bench file and the DBC that it names; raises BenchError with every mistake."""
    return read_far(path).sound()


def parse_bench(file: str, text: str, *, folder: Path | None = None) -> Bench:
    """Check a bench description given as text; with `folder`, also against the DBC that lies in it.

    Raises BenchError with every mistake: where an entry is wrong, the rest is checked as if it were right.
    """
    return parse_far(file, text, folder=folder).sound()


def read_far(path: Path) -> Parsed:
    """The same as `load_bench`, with the mistakes beside what could be read; raises BenchError for broken YAML."""
    return parse_far(str(path), read_text(path), folder=path.parent)


def parse_far(file: str, text: str, *, folder: Path | None = None) -> Parsed:
    """The same as `parse_bench`, with the mistakes beside what could be read; raises BenchError for broken YAML."""
    source = read_yaml(file, text)
    bench, mistakes = read_structure(source)
    if bench is not None:
        mistakes += _further(source, bench, folder)
    return Parsed(source, bench, mistakes)


def _further(source: YamlSource, bench: Bench, folder: Path | None) -> list[Mistake]:
    twice = (
        Mistake(
            ("kinds", name), f"kind {quoted(name)}", "a built-in kind has this name", "choose another", True
        )
        for name in bench.kinds
        if name in builtin_kinds()
    )
    names = names_of(source, bench, {**builtin_kinds(), **bench.kinds})
    found = [*twice, *check_kinds(bench.kinds, ("kinds",)), *check_bench(bench, names)]
    if bench.shows is not None and folder is not None:
        found += check_described(bench.shows, folder, names)
    return [one for one in found if not source.explains(one)]


@cache
def builtin_kinds() -> dict[str, Kind]:
    """The device kinds that every bench may use."""
    return {name: kind for file in _KINDS_FILES for name, kind in _kinds_in(file).items()}


def _kinds_in(file: Path) -> dict[str, Kind]:
    text = file.read_text(encoding="utf-8")
    source = read_composed(file.name, text, compose_own(text))
    data: Any = source.data
    kinds = {name: Kind.model_validate(kind) for name, kind in data.items()}
    if problems := [*source.problems, *map(source.place, check_kinds(kinds, ()))]:
        raise BenchError(problems)
    return kinds


def kinds_of(bench: Bench) -> dict[str, Kind]:
    """The kinds that this bench may use: the built-in ones and its own."""
    return {**builtin_kinds(), **bench.kinds}


def dbc_path(bench_file: Path, bench: Bench) -> Path | None:
    """Where the DBC of the bench lies, if it has one; raises InterlockError if the bench shows nothing in a log."""
    if bench.shows is None:
        raise InterlockError(f"{bench_file}: it has no section 'shows'; add it to judge logs")
    return None if bench.shows.dbc is None else bench_file.parent / bench.shows.dbc


def bench_fingerprint(bench_file: Path, bench: Bench) -> str:
    """SHA-256 over the canonical content of the bench, of the kinds it uses, and over the bytes of its DBC and EDS."""
    kinds = kinds_of(bench)
    used = {device.kind: kinds[device.kind] for device in bench.devices.values()}
    files = [file for file, _ in message_files(bench_file, bench)]
    try:
        return fingerprint([bench, used], *files)
    except OSError as error:
        raise InterlockError(
            f"{error.filename}: it cannot be read ({error.strerror}); put it back"
        ) from error
