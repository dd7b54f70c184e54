"""One name for one bench content: comments, order of keys and spelling of units do not change it."""

import hashlib
import json
from decimal import Decimal
from pathlib import Path

from pydantic import BaseModel

from interlock.bench.canopen import ObjectName
from interlock.bench.expr import And, Const, Name, Not, Or, render
from interlock.bench.observe import Amount, Comparison, Condition, SignalName
from interlock.bench.quantity import Quantity

__all__ = ["canonical", "fingerprint"]


def fingerprint(content: object, *files: Path) -> str:
    """SHA-256 (hex) of the canonical content and of the bytes of the files it refers to."""
    digest = hashlib.sha256(canonical(content).encode())
    for file in files:
        digest.update(hashlib.sha256(file.read_bytes()).digest())
    return digest.hexdigest()


def canonical(content: object) -> str:
    """The content as JSON with sorted keys, quantities in base units, expressions in one spelling."""
    return json.dumps(
        _plain(content), sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False
    )


def _is_stated(model: BaseModel, name: str, entry: object) -> bool:
    """Whether it is more than a default: else each new optional entry would give every older bench another name."""
    field = type(model).model_fields[name]
    return field.is_required() or entry != field.get_default(call_default_factory=True)


def _plain(value: object) -> object:
    match value:
        case BaseModel():
            return {name: _plain(entry) for name, entry in value if _is_stated(value, name, entry)}
        case Quantity():
            return [value.dimension, _decimal(value.value)]
        case Const() | Name() | Not() | And() | Or():
            return render(value)
        case Condition(parts, every):
            return ["every" if every or len(parts) == 1 else "any", *map(_plain, parts)]
        case Comparison():
            name = f"|{value.name}|" if value.magnitude else str(value.name)
            return [name, value.operator, value.label or _plain(value.value), value.unit]
        case Amount():
            return [_plain(value.value), value.unit]
        case SignalName() | ObjectName():
            return str(value)
        case float():
            return int(value) if value.is_integer() else value
        case dict():
            return {str(key): _plain(item) for key, item in value.items()}
        case list() | tuple():
            return [_plain(item) for item in value]
        case None | bool() | int() | str():
            return value
    raise TypeError(f"no canonical form for {type(value).__name__}")


def _decimal(value: Decimal) -> str:
    return format(value.normalize(), "f") if value else "0"
