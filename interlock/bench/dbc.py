"""Reading the message database that a bench names."""

import re
from collections import Counter
from pathlib import Path
from typing import Any, Final

import cantools
import cantools.database

from interlock.bench.refusal import Refusal, quoted

__all__ = ["dbc_text", "read_dbc"]

_MOST_BYTES: Final = 20_000_000


def dbc_text(content: bytes) -> str:
    """The text of a DBC: Windows-1252 as ever, or UTF-8 if its bytes can hardly be anything else.

    Raises UnicodeDecodeError. A letter beyond ASCII in UTF-8 takes bytes that make no sensible Windows-1252; read as
    such, a unit like °C would be a strange one.
    """
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("cp1252")


def read_dbc(path: Path) -> Any:
    """The cantools database in the file; raises Refusal, with one line of reason, if it is no sound DBC."""
    try:
        with path.open("rb") as file:
            text = dbc_text(file.read(_MOST_BYTES))
    except UnicodeDecodeError as error:
        why = f"its byte {error.start} is no character in Windows-1252, as a DBC file is written"
        raise Refusal(why, "export the DBC anew") from error
    except (OSError, ValueError) as error:  # ValueError: a path with a zero byte
        why = getattr(error, "strerror", None) or str(error)
        raise Refusal(f"the DBC cannot be read ({why})", "name a DBC file beside this one") from error
    database = _parsed(text)
    _refuse_doubles(database)
    return database


def _parsed(text: str) -> Any:
    try:
        return cantools.database.load_string(text, "dbc")
    except cantools.Error as error:
        reason = _reason(getattr(error, "e_dbc", None) or error)
        raise Refusal(f"it is no sound DBC ({reason})", "mend the DBC, or export it anew") from error


def _reason(error: Exception) -> str:
    said = " ".join(str(error).split())
    place = re.search(r"[Ii]nvalid syntax at (line \d+, column \d+)", said)
    return f"{place[1]} cannot be read" if place else said.rstrip(".")[:150]


def _refuse_doubles(database: Any) -> None:
    """A second message of one name or identifier would be read in the place of the first."""
    messages = database.messages
    for what, taken in (
        ("name", [message.name for message in messages]),
        ("identifier", [f"{message.frame_id:#x}" + "x" * message.is_extended_frame for message in messages]),
    ):
        for word, times in Counter(taken).items():
            if times > 1:
                raise Refusal(f"two messages of the DBC have the {what} {quoted(word)}", "keep one of them")
