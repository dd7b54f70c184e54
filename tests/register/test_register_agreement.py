"""Two readings of one random history: this package's, and a plain one that shares nothing with it.

The plain one reads JSON lines with `json` and `hashlib` alone, as the published schema describes them.
"""

import hashlib
import json
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from register_lines import BENCH, OTHER, at, changed, counted, proof, replaced

from interlock.errors import RegisterError
from interlock.register import append, create, load_register, read_register
from interlock.register.entries import Withdrawn
from interlock.register.uses import uses

START = date(2025, 1, 1)
DEVICES = ("k1", "k2")


def day(number: int) -> str:
    return (START + timedelta(days=number)).isoformat()


days = st.integers(1, 60)
acts = st.one_of(
    st.tuples(st.just("count"), st.sampled_from(DEVICES), days, st.integers(1, 20), st.integers(0, 99)),
    st.tuples(st.just("replace"), st.sampled_from(DEVICES), days, st.just(0), st.just(0)),
    st.tuples(st.just("test"), st.just(""), days, st.just(0), st.integers(0, 3)),
    st.tuples(st.just("change"), st.just(""), days, st.just(0), st.just(0)),
    st.tuples(st.just("withdraw"), st.just(""), st.integers(1, 8), st.just(0), st.just(0)),
)
benches = st.sampled_from([BENCH, OTHER])
histories = st.lists(st.tuples(benches, acts), max_size=10)


def content(act: tuple) -> Any:
    kind, device, first, length, number = act
    match kind:
        case "count":
            return counted(day(first), day(first + length), number, number // 10, device=device)
        case "replace":
            return replaced(day(first), device=device)
        case "test":
            return proof(day(first), f"log {number}")
        case "change":
            return changed(day(first))
        case _:
            return Withdrawn(withdraws=first, reason="misread")


class Plain:
    """The same history kept as a list of dictionaries, its rules written once more in the plainest way."""

    def __init__(self) -> None:
        self.lines: list[dict[str, Any]] = []

    def counting(self, bench: str) -> list[dict[str, Any]]:
        gone = {one["withdraws"] for one in self.lines if one["kind"] == "withdrawn"}
        return [
            one
            for number, one in enumerate(self.lines, 1)
            if one["bench"] == bench and one["kind"] != "withdrawn" and number not in gone
        ]

    def takes(self, bench: str, act: tuple) -> bool:
        kind, device, first, length, number = act
        others = [one for one in self.counting(bench) if one.get("device") == device]
        counts = [one["days"] for one in others if one["kind"] == "operations"]
        news = [one["day"] for one in others if one["kind"] == "replaced"]
        match kind:
            case "count":
                mine = set(range(first, first + length))  # the nights between the two readings
                return not any(mine & nights for nights in counts) and not any(
                    first < new < first + length for new in news
                )
            case "replace":
                across = any(first in nights and first - 1 in nights for nights in counts)
                return not across and first not in news
            case "test":
                return all(one.get("log") != number for one in self.counting(bench))
            case "withdraw":
                return (
                    first <= len(self.lines)
                    and self.lines[first - 1]["bench"] == bench
                    and self.lines[first - 1] in self.counting(bench)
                )
            case _:
                return True

    def enter(self, bench: str, act: tuple) -> None:
        kind, device, first, length, number = act
        names = {"count": "operations", "replace": "replaced", "test": "proof_test", "change": "changed"}
        line: dict[str, Any] = {"kind": names.get(kind, "withdrawn"), "bench": bench, "id": len(self.lines)}
        if kind in ("count", "replace"):
            line["device"] = device
        if kind == "count":
            line |= {"days": set(range(first, first + length)), "operations": number, "breaks": number // 10}
        line |= {"replace": {"day": first}, "test": {"log": number}, "withdraw": {"withdraws": first}}.get(
            kind, {}
        )
        self.lines.append(line)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("agreement")


def written(path: Path, history: list) -> Plain:
    """The history in a register and in the plain list; each act is taken by both or by none."""
    path.unlink(missing_ok=True)
    create(path, now=at("2025-01-01"))
    plain = Plain()
    for bench, act in history:
        expected = plain.takes(bench.id, act)
        # a withdrawal is of the bench of the line that it withdraws, as the command line makes it
        if expected:
            append(path, bench, content(act), now=at("2026-01-01"))
            plain.enter(bench.id, act)
        else:
            with pytest.raises(RegisterError):
                append(path, bench, content(act), now=at("2026-01-01"))
    return plain


@settings(max_examples=12)
@given(histories)
def test_both_take_and_count_the_same(folder, history):
    path = folder / "r.jsonl"
    plain = written(path, history)
    register = load_register(path)
    for bench in (BENCH, OTHER):
        mine = [entry.entry for entry in register.counting(bench.id)]
        assert mine == [one["id"] + 1 for one in plain.counting(bench.id)]
        found = uses(register, bench.id)
        for device in DEVICES:
            lines = [one for one in plain.counting(bench.id) if one.get("device") == device]
            counts = [one for one in lines if one["kind"] == "operations"]
            assert (device in found) is bool(lines)
            if not lines:
                continue
            assert found[device].days == sum(len(one["days"]) for one in counts)
            tally = found[device].tally("all")
            assert (tally.count if tally else 0) == sum(one["operations"] + one["breaks"] for one in counts)
            news = [one["day"] for one in lines if one["kind"] == "replaced"]
            assert found[device].installed == (START + timedelta(days=max(news)) if news else None)


@settings(max_examples=12)
@given(histories)
def test_the_chain_holds_for_a_plain_reader_too(folder, history):
    path = folder / "p.jsonl"
    written(path, history)
    previous = None
    for number, line in enumerate(path.read_bytes().splitlines()):
        body = json.loads(line)
        text, _, tail = line.rpartition(b',"sha256":"')
        assert hashlib.sha256(text).hexdigest() == body["sha256"] == tail[:64].decode()
        assert (body["entry"], body.get("previous")) == (number, previous)
        previous = body["sha256"]
    assert load_register(path).sha256 == previous


spoils = st.lists(
    st.tuples(
        st.sampled_from(["drop", "swap", "double", "flip", "cut"]),
        st.integers(0, 10**6),
        st.integers(0, 10**6),
    ),
    min_size=1,
    max_size=3,
)


def spoilt(data: bytes, how: str, first: int, second: int) -> bytes:
    lines = data.splitlines(keepends=True)
    if not lines:
        return data
    i, j = first % len(lines), second % len(lines)
    match how:
        case "drop":
            del lines[i]
        case "swap":
            lines[i], lines[j] = lines[j], lines[i]
        case "double":
            lines.insert(i, lines[j])
        case "flip":
            at_, joined = first % len(data), bytearray(data)
            joined[at_] ^= 1 + second % 255
            return bytes(joined)
        case "cut":
            return data[: first % (len(data) + 1)]
    return b"".join(lines)


@settings(max_examples=25)
@given(histories, spoils)
def test_whatever_is_done_to_it_only_whole_lines_from_the_start_are_read(folder, history, how):
    """Any mixture of changes is refused, unless what is left is a beginning of what was written."""
    path = folder / "s.jsonl"
    written(path, history)
    data = spoiled = path.read_bytes()
    for one in how:
        spoiled = spoilt(spoiled, *one)
    starts = [b"".join(data.splitlines(keepends=True)[:keep]) for keep in range(1, data.count(b"\n") + 1)]
    if spoiled in starts:
        assert len(read_register("s", spoiled).entries) == spoiled.count(b"\n") - 1
    else:
        with pytest.raises(RegisterError):
            read_register("s", spoiled)
