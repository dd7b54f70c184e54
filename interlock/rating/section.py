"""The `rating:` section of a bench file, each mistake with its line and column."""

from pathlib import Path

from pydantic import ValidationError

from interlock.bench.yaml_source import read_yaml
from interlock.errors import BenchError, InterlockError
from interlock.rating.inputs import RatingInputs

__all__ = ["rating_of"]

_HINT = "see the section 'rating' of the built-in bench"


def rating_of(bench_file: Path) -> RatingInputs:
    """The checked section of a bench file that is sound otherwise; BenchError with every mistake in it.

    InterlockError if the file has no such section: nothing is rated out of nothing.
    """
    source = read_yaml(str(bench_file), bench_file.read_text(encoding="utf-8"))
    section = source.data.get("rating") if isinstance(source.data, dict) else None
    if section is None:
        raise InterlockError(
            f"{bench_file}: it has no section 'rating'; add the parts and levels to be rated ({_HINT})"
        )
    try:
        return RatingInputs.model_validate(section)
    except ValidationError as error:
        found = []
        for detail in error.errors(include_url=False):
            path = ("rating", *(part for part in detail["loc"] if part != "[key]"))
            name = str(path[-1])
            unknown = detail["type"] in {"extra_forbidden", "missing"}
            why = detail["msg"].removeprefix("Value error, ")
            found.append(source.problem(path, f"'{name}'", why, _HINT, at_key=unknown))
        raise BenchError(found) from error
