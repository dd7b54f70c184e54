"""The first draft of a bench description: what a log and a DBC tell, and a mark wherever a person must decide.

Each mark is a value that the loader refuses at its line and column, so that loading the draft lists what is missing
and nothing undecided can be taken for decided.
"""

import os
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import yaml

from interlock.bench.yaml_compose import legible
from interlock.errors import InterlockError
from interlock.look.draft_bench import bench_lines
from interlock.look.draft_messages import message_lines
from interlock.look.draft_signals import state_lines, value_lines
from interlock.look.draft_sources import sampled_names, source_lines
from interlock.look.seen import Look
from interlock.trace.layout import load_dbc

__all__ = ["Draft", "draft"]

_HEAD: Final = """\
# First draft of a bench description, made from a log and a DBC. It describes no bench yet.
#
# Each 'undecided' stands where a person must decide; 'interlock check' on this file lists them with line and
# column, and 'interlock check --schema' helps your editor. Figures called measured are those of one log: compare
# them with data sheets and drawings before you keep them. Whoever completes this file answers for it.
bench:
  id: undecided?  # small letters, digits and _
  name: [undecided]  # a line of text without brackets, as people call the bench
  place: [undecided]  # the same
  ratings: {bus_voltage: undecided, max_speed: undecided}  # by the name plates, such as 325 V and 3000 1/min

"""


@dataclass(frozen=True, slots=True)
class Draft:
    """The text of the file, and how many entries of it wait for a decision."""

    text: str
    undecided: int


def draft(seen: Look, dbc: Path | None, target: Path) -> Draft:
    """The draft that will stand at `target`; raises InterlockError if the logs hold no signal that can be named.

    Without a DBC only recorders that had decoded their signals (tables, captures) can be drafted.
    """
    framed = any(message.name and not message.decoded for message in seen.messages)
    if dbc is None and not any(message.decoded for message in seen.messages):
        raise InterlockError("a draft of CAN logs needs the DBC of the bench; add --dbc FILE")
    if dbc is not None and not framed:
        raise InterlockError(f"{dbc}: the log holds none of its messages; give the DBC of this bench")
    once = _once(seen)
    lines = [*bench_lines(), *_shows(once, dbc, target, parts=len(once.messages) < len(seen.messages))]
    text = _HEAD + "".join(f"{line}\n" for line in lines)
    return Draft(text, len(re.findall(r"\bundecided\b(?!\.)", re.sub(r"(^|  )#.*", "", text, flags=re.M))))


def _once(seen: Look) -> Look:
    """Each message once, as the file tells of it that holds most: parts of a run without dates are seen one by one."""
    most = {(one.name, one.identifier): one for one in sorted(seen.messages, key=lambda one: one.count)}
    signals = {(one.message, one.name): one for one in sorted(seen.signals, key=lambda one: one.count)}
    return replace(
        seen,
        messages=tuple(one for one in seen.messages if one is most[one.name, one.identifier]),
        signals=tuple(one for one in seen.signals if one is signals[one.message, one.name]),
    )


def _shows(seen: Look, dbc: Path | None, target: Path, *, parts: bool) -> Iterator[str]:
    sampled = sampled_names(seen)
    yield "shows:  # how the bench shows itself in its logs"
    if dbc is not None:
        yield f"  dbc: {_quoted(_from(target.parent, dbc))}"
    yield "  # A frame is stamped this long after its content was sampled; by the data sheets of sender and logger:"
    yield "  stamp_delay: {least: undecided, most: undecided}"
    yield from source_lines(seen, sampled, parts=parts)
    if dbc is not None:
        yield "  messages:  # period and longest gap as proposed from the median; keep those that are evidence"
        yield from message_lines(seen)
        absent = sorted({one.name for one in load_dbc(dbc).values()} - {one.name for one in seen.messages})
        if absent:
            yield f"    # in the DBC and not in the log: {', '.join(absent)}"
    yield from state_lines(seen, sampled)
    yield from value_lines(seen, sampled)


def _from(folder: Path, dbc: Path) -> str:
    try:
        return Path(os.path.relpath(dbc.resolve(), folder.resolve())).as_posix()
    except ValueError:  # another drive of Windows
        return str(dbc.resolve())


def _quoted(text: str) -> str:
    """The text as YAML writes it on one line."""
    written: str = yaml.safe_dump([text], default_flow_style=True, width=10**6, allow_unicode=legible(text))
    return written.strip()[1:-1]
