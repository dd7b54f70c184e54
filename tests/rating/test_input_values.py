"""Number types of the section: a number or a pair, each checked in its own unit."""

import math

import pytest
from pydantic import TypeAdapter, ValidationError

from interlock.errors import RatingError
from interlock.rating.input_values import Beta, Fewer, Longer, Rate, Share, Years, category_text
from interlock.rating.uncertainty import Range

KINDS = {"longer": Longer, "fewer": Fewer, "years": Years, "rate": Rate, "share": Share, "beta": Beta}
BETTER = {"longer": "more", "fewer": "less", "years": "more", "rate": "less", "share": "more", "beta": "less"}


def read(kind, value) -> Range:
    return TypeAdapter(KINDS[kind]).validate_python(value)


@pytest.mark.parametrize("kind", KINDS)
def test_a_number_and_a_pair(kind) -> None:
    low, high = (1e-6, 2e-6) if kind == "rate" else (0.25, 0.5)
    assert read(kind, low) == Range(low, low, BETTER[kind])
    assert read(kind, [low, high]) == Range(low, high, BETTER[kind])
    assert read(kind, Range(low, high, BETTER[kind])) == Range(low, high, BETTER[kind])


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(
    "value", [-1, math.nan, math.inf, "1", None, True, [], [0.1], [0.1, 0.2, 0.3], [0.2, 0.1], {}, (0.1, 0.2)]
)
def test_odd_values(kind, value) -> None:
    with pytest.raises(ValidationError):
        read(kind, value)


@pytest.mark.parametrize("kind", ["longer", "fewer", "years", "rate"])
def test_zero_is_no_life_and_no_rate(kind) -> None:
    with pytest.raises(ValidationError, match="above 0"):
        read(kind, 0)


def test_zero_coverage_is_a_coverage_but_full_is_not() -> None:
    assert read("share", 0) == Range(0, 0, "more")
    with pytest.raises(ValidationError, match=r"99 % is 0\.99"):
        read("share", 1)


@pytest.mark.parametrize(("years", "good"), [(2500, True), (26_280, True), (26_281, False), (262_800, False)])
def test_hours_given_for_years_are_noticed(years, good) -> None:
    """262 800 h are 30 years: a stated MTTFd of so many years is refused with a question."""
    if good:
        assert read("years", years).low == years
    else:
        with pytest.raises(ValidationError, match="is it hours"):
            read("years", years)


def test_a_rate_without_level_is_no_rate() -> None:
    assert read("rate", 1e-4).high == 1e-4
    with pytest.raises(ValidationError, match="at most 1e-4"):
        read("rate", 1.1e-4)


def test_categories() -> None:
    assert [category_text(value) for value in ("B", 1, "2", 3, "4")] == ["B", "1", "2", "3", "4"]
    with pytest.raises(RatingError):
        category_text("5")


@pytest.mark.parametrize("kind", KINDS)
def test_the_schema_allows_a_number_or_a_pair(kind) -> None:
    schema = TypeAdapter(KINDS[kind]).json_schema()
    assert [option["type"] for option in schema["anyOf"]] == ["number", "array"]
