"""What every part of the `rating:` section is checked by: no unknown key, no odd number, nothing guessed."""

from collections.abc import Sequence
from typing import Annotated, Final, Literal

from pydantic import BaseModel as _Model
from pydantic import ConfigDict, Field
from pydantic_core import PydanticCustomError

__all__ = ["ELSEWHERE", "Level", "NotNegative", "Positive", "Strict", "Text", "elsewhere", "one_of"]

Text = Annotated[str, Field(min_length=1)]
Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(ge=0, allow_inf_nan=False)]
Level = Literal["a", "b", "c", "d", "e"]


class Strict(_Model):
    """No unknown key, no silent conversion, no change afterwards."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


def one_of(model: Strict, *names: str) -> None:
    """ValueError unless exactly one of the entries is given."""
    given = [name for name in names if getattr(model, name) is not None]
    if len(given) != 1:
        raise ValueError(f"give exactly one of {', '.join(names)}; given: {', '.join(given) or 'none'}")


ELSEWHERE: Final = "stands_elsewhere"
"""The type of an error whose places are entries further in than the model that found it."""


def elsewhere(found: Sequence[tuple[tuple[str | int, ...], str]]) -> PydanticCustomError:
    """The mistakes found by one model, each with the path, from this model on, of the entry to blame."""
    text = "; ".join(f"{'.'.join(map(str, path))}: {why}" for path, why in found)
    return PydanticCustomError(ELSEWHERE, "{text}", {"text": text, "found": list(found)})
