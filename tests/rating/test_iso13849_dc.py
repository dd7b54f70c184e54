"""Average coverage against Annex I, classes on the side of their border that Table 6 says."""

import math
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.errors import RatingError
from interlock.rating.iso13849 import dc_average, dc_class, dc_class_with_tolerance, extreme_mttfds

# AS 4024.1503 (adopts ISO 13849-1:2006), I.4.2, formula I.4: SW2, K1B, PLC, CC as (DC, MTTFd)
EXAMPLE_B = [(0.6, 20), (0.99, 30), (0.3, 20), (0.9, 20)]

SHARES = st.floats(0, 0.999)
YEARS = st.floats(1, 1e4)
PARTS = st.lists(st.tuples(SHARES, YEARS), min_size=1, max_size=6)


def test_annex_i_example_b() -> None:
    """I.4.2 prints 67.1 % and 'low'."""
    assert dc_average(EXAMPLE_B) == pytest.approx(0.6709, abs=0.0005)
    assert dc_class(dc_average(EXAMPLE_B)) == "low"


@pytest.mark.parametrize(
    ("parts", "average"),
    [  # by pocket calculator from formula E.1
        ([(0.99, 100), (0.60, 20)], 0.665),  # the weak part dominates
        ([(0.99, 100), (0.0, 100)], 0.495),  # an untested part stays in the denominator
        ([(0.5, 7)], 0.5),
        ([(0.99, 2604.17), (0.99, 1692.71), (0.90, 150)], 0.9111),
    ],
)
def test_averages(parts, average) -> None:
    assert dc_average(parts) == pytest.approx(average, abs=0.0005)


@pytest.mark.parametrize(
    ("dc", "name"),
    [  # ISO 13849-1:2006 and 2015, Table 6: a border belongs to the class above it
        (0.0, "none"),
        (0.599999, "none"),
        (0.60, "low"),
        (0.899999, "low"),
        (0.90, "medium"),
        (0.989999, "medium"),
        (0.99, "high"),
        (0.999999, "high"),
    ],
)
def test_classes(dc, name) -> None:
    assert dc_class(dc) == name


def test_sixty_to_ninety_per_cent_is_low() -> None:
    """A quiz found in public calls 60 to 90 % 'medium'; Table 6 says low."""
    assert {dc_class(percent / 100) for percent in range(60, 90)} == {"low"}


@given(st.sampled_from([0.6, 0.9, 0.99]), st.lists(YEARS, min_size=1, max_size=6))
def test_parts_of_equal_coverage_average_exactly_to_it(dc, years) -> None:
    """Binary rounding must not push an average of 99 % parts below 99 %."""
    assert dc_average([(dc, m) for m in years]) == dc


@given(PARTS)
def test_an_average_lies_between_its_parts(parts) -> None:
    assert min(dc for dc, _ in parts) <= dc_average(parts) <= max(dc for dc, _ in parts)


@given(PARTS, st.integers(0, 5), st.floats(0, 1))
def test_better_coverage_of_one_part_never_lowers_the_average(parts, index, step) -> None:
    index %= len(parts)
    dc, years = parts[index]
    better = [*parts[:index], (dc + step * (0.999 - dc), years), *parts[index + 1 :]]
    assert dc_average(better) >= dc_average(parts)


@given(SHARES, SHARES)
def test_classes_are_monotone(first, second) -> None:
    order = ("none", "low", "medium", "high")
    low, high = sorted([first, second])
    assert order.index(dc_class(low)) <= order.index(dc_class(high))


def test_a_longer_lived_part_may_lower_the_average() -> None:
    """Formula E.1 weighs by 1/MTTFd: a better part that is tested well counts less (computed)."""
    assert dc_average([(0.99, 100), (0.6, 20)]) < dc_average([(0.99, 20), (0.6, 20)])


def test_tolerance_of_borders_is_off_unless_asked_for() -> None:
    """Note 2 to Table 6 gives 5 % accuracy without an example: 60 % from 57, 90 from 85.5, 99 from 94.05."""
    for dc, name in [(0.57, "low"), (0.855, "medium"), (0.9405, "high")]:
        assert dc_class_with_tolerance(dc) == (name, True)
        assert dc_class(dc) != name
    assert dc_class_with_tolerance(0.5699) == ("none", False)
    assert dc_class_with_tolerance(0.99) == ("high", False)


@given(st.lists(st.tuples(SHARES, YEARS, YEARS), min_size=1, max_size=5), st.booleans())
def test_extreme_average_is_that_of_all_corners(parts, lowest) -> None:
    """Brute force over every choice of ends is the oracle."""
    corners = product(*[part[1:] for part in parts])
    averages = [dc_average([(p[0], m) for p, m in zip(parts, years, strict=True)]) for years in corners]
    years = extreme_mttfds(parts, lowest=lowest)
    found = dc_average([(p[0], m) for p, m in zip(parts, years, strict=True)])
    assert found == pytest.approx(min(averages) if lowest else max(averages), rel=1e-12)


@given(st.lists(st.tuples(SHARES, YEARS, YEARS, st.floats(0, 1)), min_size=1, max_size=5))
def test_no_inner_point_lies_outside_the_extremes(parts) -> None:
    known = [(dc, low, high) for dc, low, high, _ in parts]
    inner = dc_average([(dc, low + at * (high - low)) for dc, low, high, at in parts])
    ends = [
        dc_average([(p[0], m) for p, m in zip(known, extreme_mttfds(known, lowest=lowest), strict=True)])
        for lowest in (True, False)
    ]
    assert ends[0] * (1 - 1e-12) <= inner <= ends[1] * (1 + 1e-12)


@pytest.mark.parametrize("dc", [1, 1.0, 99, -0.1, math.nan, math.inf, None, "high", True])
def test_no_class_for_full_or_odd_coverage(dc) -> None:
    with pytest.raises(RatingError, match="fraction from 0"):
        dc_class(dc)


@pytest.mark.parametrize(
    "parts",
    [[], [(1.0, 20)], [(90, 20)], [(0.9, 0)], [(0.9, math.nan)], [(0.9,)], [0.9, 20], None, [(0.9, "20 y")]],
)
def test_no_average_of_odd_parts(parts) -> None:
    with pytest.raises(RatingError):
        dc_average(parts)
