"""The messages that a bench's log may hold: those of its DBC, and those of its CANopen nodes by their EDS."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path as FilePath
from typing import Any

from interlock.bench.canopen_messages import RECEIVED, SYNC, network_messages, node_messages
from interlock.bench.dbc import read_dbc
from interlock.bench.described import DescribedMessage, DescribedSignal
from interlock.bench.eds import Dictionary, read_eds
from interlock.bench.models import Bench
from interlock.bench.refusal import Refusal, quoted
from interlock.bench.shows_models import Shows
from interlock.bench.yaml_source import Mistake, Path
from interlock.errors import InterlockError

__all__ = ["LogMessages", "described_messages", "log_messages", "message_files"]

_ASIDE = ("", SYNC)  # roles of messages that a DBC may well describe itself
_SYNC_OVERFLOW = 0x1019  # with it SYNC carries a counter


@dataclass(frozen=True, slots=True)
class LogMessages:
    """Messages as cantools has them, or of the same shape; and why some could not be had."""

    messages: tuple[Any, ...]
    mistakes: tuple[Mistake, ...] = ()


def log_messages(shows: Shows, folder: FilePath) -> LogMessages:
    """Every message that the files beside the bench file describe, and what is wrong with those files."""
    mistakes: list[Mistake] = []
    dbc: list[Any] = []
    if shows.dbc is not None:
        try:
            dbc = list(read_dbc(folder / shows.dbc).messages)
        except Refusal as refusal:
            mistakes.append(Mistake(("shows", "dbc"), quoted(shows.dbc), refusal.why, refusal.instead))
    elif not shows.canopen and not shows.sources:
        why = "nothing says which messages the log holds"
        mistakes.append(Mistake(("shows",), "shows", why, "add 'dbc: bench.dbc', or 'canopen'", at_key=True))
    nodes, wrong = _of_nodes(shows, folder)
    nodes = [(at, message) for at, message in nodes if not _yields(message, dbc)]
    mistakes += [*wrong, *_twice(dbc, nodes)]
    return LogMessages((*dbc, *(message for _, message in nodes)), tuple(mistakes))


def described_messages(bench_file: FilePath, bench: Bench) -> tuple[DescribedMessage, ...]:
    """The messages that no DBC describes; raises InterlockError if their files cannot be read any more."""
    if bench.shows is None:
        return ()
    nodes, wrong = _of_nodes(bench.shows, bench_file.parent)
    if wrong:
        raise InterlockError(f"{bench_file}: {wrong[0].what}: {wrong[0].why}; {wrong[0].instead}")
    return tuple(message for _, message in nodes)


def message_files(bench_file: FilePath, bench: Bench) -> list[tuple[FilePath, str]]:
    """Each file that describes messages of the log, and what it is, in the order of the bench file."""
    if bench.shows is None:
        return []
    names = [] if bench.shows.dbc is None else [(bench.shows.dbc, "messages of the log (DBC)")]
    names += [(node.eds, f"CANopen node {name} (EDS)") for name, node in bench.shows.canopen.items()]
    return [(bench_file.parent / name, role) for name, role in dict(names).items()]


Placed = tuple[Path, DescribedMessage]


def _of_nodes(shows: Shows, folder: FilePath) -> tuple[list[Placed], list[Mistake]]:
    if not shows.canopen:
        return [], []
    found: list[Placed] = []
    mistakes: list[Mistake] = []
    files: list[Dictionary] = []
    for name, node in shows.canopen.items():
        at: Path = ("shows", "canopen", name)
        try:
            eds = read_eds(folder / node.eds, node.node)
            found += [(at, message) for message in node_messages(name, node, eds)]
            files.append(eds)
        except Refusal as refusal:
            mistakes.append(Mistake((*at, "eds"), quoted(node.eds), refusal.why, refusal.instead))
    network: list[Placed] = [(("shows", "canopen"), one) for one in network_messages()]
    if any(eds.value(_SYNC_OVERFLOW) for eds in files):
        network[-1] = (network[-1][0], _counted(network[-1][1]))
    return [*network, *_as_sent(found)], mistakes


def _as_sent(found: list[Placed]) -> Iterator[Placed]:
    """Each identifier once: what one node sends is the same message as what another one receives."""
    taken = {message.frame_id for _, message in found if message.role != RECEIVED}
    for at, message in found:
        if message.role != RECEIVED or message.frame_id not in taken:
            yield at, message
            taken.add(message.frame_id)


def _counted(sync: DescribedMessage) -> DescribedMessage:
    return replace(sync, length=1, signals=(DescribedSignal("Counter", 0, 8),))


def _yields(message: DescribedMessage, dbc: list[Any]) -> bool:
    """Whether a message that no verdict needs gives way to one of the DBC."""
    key = (message.frame_id, message.is_extended_frame)
    known = any(message.name == one.name or key == (one.frame_id, one.is_extended_frame) for one in dbc)
    return known and message.role in _ASIDE


def _twice(dbc: list[Any], nodes: list[Placed]) -> Iterator[Mistake]:
    """A message of a node whose name or identifier another one has already."""
    names = {message.name: message.name for message in dbc}
    taken = {(message.frame_id, message.is_extended_frame): message.name for message in dbc}
    for at, message in nodes:
        key = (message.frame_id, message.is_extended_frame)
        other = names.get(message.name) or taken.get(key)
        if other is not None:
            what = "name" if message.name in names else f"identifier {message.frame_id:X}h"
            why = f"its message {message.name} has the {what} of {other}"
            yield Mistake(at, str(at[-1]), why, "keep one of them", at_key=True)
        names[message.name] = taken[key] = message.name
