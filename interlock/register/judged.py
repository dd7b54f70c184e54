"""From a judged log to the entry of a proof test; a result that contradicts itself is refused."""

import re
from collections.abc import Mapping
from datetime import date, timedelta
from typing import Annotated, Any, Final, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from interlock.errors import RegisterError
from interlock.register.entries import (
    BenchName,
    FunctionTest,
    LogCount,
    LogFile,
    ProofTest,
    Sha,
    Span,
    Text,
    Timing,
)
from interlock.verdict import Verdict, worst

__all__ = ["proof_test"]

_ZONES: Final = timedelta(days=1)


class _Part(BaseModel):
    """What is needed of a document; the rest of it is not looked at."""

    model_config = ConfigDict(extra="ignore", strict=True, frozen=True)


class _Finding(_Part):
    function: str
    subject: Text
    effect: Text
    verdict: Verdict
    latency_ns: Span | None
    limit_ns: int | None


class _Source(_Part):
    path: str = Field(min_length=1)
    sha256: Sha


class _Bench(_Part):
    id: Text
    name: Text
    fingerprint: Sha


class _Result(_Part):
    schema_: Literal["interlock replay 1"] = Field(alias="schema")
    software: Text
    verdict: Verdict
    bench: _Bench
    trace_start: Annotated[str, Field(pattern=r"^[0-9]{4}-[0-9]{2}-[0-9]{2}T")] | None
    sources: list[_Source] = Field(min_length=1)
    findings: list[_Finding] = Field(min_length=1)


def proof_test(
    where: str,
    result: str | bytes,
    functions: Mapping[str, object],
    *,
    day: date | None = None,
    counts: Mapping[str, Any] | None = None,
) -> tuple[BenchName, ProofTest]:
    """The entry for a result of `replay`, given as the JSON text that it prints.

    `functions`: those that the bench requires; each gets a verdict. `day`: of the test, needed where the log has no
    date. RegisterError if the text is no such result, or is better than its own findings.
    """
    try:
        found = _Result.model_validate_json(result)
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        raise RegisterError(
            f"{where}: no result of replay: '{'.'.join(map(str, first['loc']))}': {first['msg']}; give what "
            "interlock replay --json prints"
        ) from None
    due = worst(one.verdict for one in found.findings)
    if found.verdict is not due:
        raise RegisterError(f"{where}: it states {found.verdict}, its findings give {due}; make it anew")
    rest = [one.verdict for one in found.findings if one.function not in functions]
    return BenchName(**found.bench.model_dump()), ProofTest(
        date=_day(where, found.trace_start, day),
        verdict=found.verdict,
        rest=worst(rest) if rest else Verdict.NOT_OBSERVED,
        functions={name: _function(name, found.findings) for name in functions},
        logs=tuple(LogFile(name=_name(one.path), sha256=one.sha256) for one in found.sources),
        counts=None if counts is None else LogCount.model_validate(counts),
        software=found.software,
    )


def _function(name: str, findings: list[_Finding]) -> FunctionTest:
    mine = [one for one in findings if one.function == name]
    timings = tuple(
        Timing(
            effect=one.effect,
            subject=one.subject,
            verdict=one.verdict,
            latency_ns=one.latency_ns,
            limit_ns=one.limit_ns,
        )
        for one in mine
        if one.latency_ns is not None
    )
    return FunctionTest(verdict=worst(one.verdict for one in mine), timings=timings)


def _name(path: str) -> str:
    return re.split(r"[\\/]", path)[-1] or path


def _day(where: str, start: str | None, day: date | None) -> date:
    if start is None:
        if day is None:
            raise RegisterError(f"{where}: the log carries no date; give the day of the test with --date")
        return day
    try:
        shown = date.fromisoformat(start[:10])
    except ValueError:
        raise RegisterError(f"{where}: its trace begins on no day ({start}); make the result anew") from None
    if day is not None and abs(day - shown) > _ZONES:
        raise RegisterError(
            f"{where}: by its stamps the log is of {shown}, not of {day}; give its own day, or set the logger's "
            "clock and test anew"
        )
    return shown if day is None else day
