"""What every part of the `rating:` section is checked by: no unknown key, no odd number, nothing guessed."""

from typing import Annotated, Literal

from pydantic import BaseModel as _Model
from pydantic import ConfigDict, Field

__all__ = ["Level", "NotNegative", "Positive", "Strict", "Text", "one_of"]

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
