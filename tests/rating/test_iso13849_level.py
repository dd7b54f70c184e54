"""Bands, combination, bars and risk graph: borders on the side that the standard says."""

import math
from itertools import combinations_with_replacement, product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.errors import RatingError
from interlock.rating.iso13849 import (
    PLS,
    SIL_OF_PL,
    combine,
    performance_level,
    pfhd,
    pl_by_bars,
    reaches,
    required_pl,
)


@pytest.mark.parametrize(
    ("pfhd_", "level"),
    [  # ISO 13849-1:2006 and 2015, Table 3: half-open bands, the border belongs to the worse level
        (9.999999e-5, "a"),
        (1e-5, "a"),
        (9.999999e-6, "b"),
        (3e-6, "b"),
        (2.999999e-6, "c"),
        (1e-6, "c"),
        (9.999999e-7, "d"),
        (9.996e-7, "d"),  # prints as 1.00e-6: not rounded before comparing
        (1e-7, "d"),
        (math.nextafter(1e-7, 0), "e"),
        (9.999999e-8, "e"),
        (1e-8, "e"),
        (9.06e-10, "e"),  # below 1e-8 still e, never better than e
        (1e-15, "e"),
        # letters that the public copy prints wrongly beside Table K.1
        (9.37e-6, "b"),
        (9.47e-7, "d"),
        (9.21e-7, "d"),
        (1.14e-6, "c"),
    ],
)
def test_bands(pfhd_, level) -> None:
    assert performance_level(pfhd_) == level


@pytest.mark.parametrize("pfhd_", [1e-4, 1e-3, 1, 0, -1e-8, math.nan, math.inf, None, "1e-7", True])
def test_no_level_out_of_nothing(pfhd_) -> None:
    with pytest.raises(RatingError):
        performance_level(pfhd_)


@given(st.floats(1e-12, 9.9e-5), st.floats(1e-12, 9.9e-5))
def test_levels_are_monotone(first, second) -> None:
    low, high = sorted([first, second])
    assert reaches(performance_level(low), performance_level(high))


def test_sil_of_a_level() -> None:
    """2006 and 2015, Table 4."""
    assert SIL_OF_PL == {"a": 0, "b": 1, "c": 1, "d": 2, "e": 3}


@pytest.mark.parametrize(
    ("subsystems", "level", "total", "source"),
    [
        # component catalogue, printed pages 1-14 and 1-17 (edition 2015)
        ([("e", 4.29e-8), ("e", 4.9e-9), ("e", 2.47e-8)], "e", 7.25e-8, "published worked sum"),
        (
            [("c", 1.14e-6), ("e", 4.9e-9), ("e", 2.47e-8)],
            "c",
            1.1696e-6,
            "published: the single switch decides",
        ),
        ([("d", 9e-7)] * 3, "c", 2.7e-6, "computed: sums win when they are known"),
        ([("e", 5e-8), ("e", 5e-8)], "d", 1e-7, "computed: exactly on the border"),
        ([("d", 2e-8)] * 5, "d", 1e-7, "five times 2e-8, exactly on the border"),
        ([("c", 1e-8), ("e", 1e-8)], "c", 2e-8, "never above the lowest level of any subsystem"),
        ([("e", 3.3e-8)] * 3, "e", 9.9e-8, "computed"),
        ([("e", 3.4e-8)] * 3, "d", 1.02e-7, "computed"),
    ],
)
def test_combination_of_known_rates(subsystems, level, total, source) -> None:
    found = combine(subsystems)
    assert (found.pl, found.pfhd) == (level, pytest.approx(total, rel=1e-12)), source


@pytest.mark.parametrize(
    ("letters", "level"),
    [  # ISO 13849-1:2006, 6.3, Table 11
        ("a", "a"),
        ("aaa", "a"),
        ("bb", "b"),
        ("bbb", "a"),
        ("cc", "c"),
        ("ccc", "b"),
        ("ddd", "d"),
        ("dddd", "c"),
        ("eee", "e"),
        ("eeee", "d"),
        ("ddde", "d"),
        ("cccd", "b"),
        ("cdc", "c"),  # Annex H: category 2 PL c, category 3 PL d, category 1 PL c give PL c
        ("abcde", "a"),
    ],
)
def test_combination_of_letters(letters, level) -> None:
    found = combine([(letter, None) for letter in letters])
    assert found == (level, None)


def test_four_of_the_lowest_level_leave_none() -> None:
    with pytest.raises(RatingError, match="none allowed"):
        combine([("a", None)] * 4)


def test_published_note_on_mid_points_does_not_hold_for_b_and_c() -> None:
    """Two mid-points of b (c) exceed the band, yet the table keeps b (c): computed, geometric mid-points."""
    assert performance_level(2 * math.sqrt(3e-6 * 1e-5)) == "a"
    assert performance_level(2 * math.sqrt(1e-6 * 3e-6)) == "b"
    assert combine([("b", None)] * 2).pl == "b"


@pytest.mark.parametrize(
    ("subsystems", "level"),
    [
        ([("d", None), ("e", 9.9e-8)], "d"),
        ([("e", None), ("e", 9e-7)], "d"),  # a letter better than its own figure does not help
        ([("d", None), ("d", 9e-7), ("d", 9e-7)], "c"),  # the known part of the sum alone leaves c
        ([("d", None)] * 3 + [("d", 1e-7)], "c"),
    ],
)
def test_combination_with_some_rates_unknown(subsystems, level) -> None:
    assert combine(subsystems) == (level, None)


SUBSYSTEM = st.tuples(st.sampled_from(PLS), st.one_of(st.none(), st.floats(1e-10, 1e-6)))


@given(st.lists(SUBSYSTEM, min_size=1, max_size=3), SUBSYSTEM)
def test_one_more_subsystem_never_helps(subsystems, another) -> None:
    try:
        longer = combine([*subsystems, another])
    except RatingError:
        return  # no level left at all
    assert reaches(combine(subsystems).pl, longer.pl)


@given(st.lists(SUBSYSTEM, min_size=1, max_size=3))
def test_never_above_the_lowest_level(subsystems) -> None:
    assert reaches(min(pl for pl, _ in subsystems), combine(subsystems).pl)


@given(st.lists(SUBSYSTEM, min_size=2, max_size=3))
def test_order_does_not_matter(subsystems) -> None:
    assert combine(subsystems) == combine(subsystems[::-1])


@given(
    st.lists(st.tuples(st.sampled_from("de"), st.floats(1e-10, 1e-7)), min_size=1, max_size=4),
    st.floats(0.01, 1),
)
def test_a_better_subsystem_never_worsens_the_whole(subsystems, factor) -> None:
    pl, rate = subsystems[0]
    assert reaches(combine([(pl, rate * factor), *subsystems[1:]]).pl, combine(subsystems).pl)


@pytest.mark.parametrize(
    "subsystems",
    [
        [],
        None,
        [("f", 1e-8)],
        [("d", 0)],
        [("d", -1e-8)],
        [("d", math.nan)],
        [(None, 1e-8)],
        ["d"],
        [("D", 1e-8)],
    ],
)
def test_odd_subsystems(subsystems) -> None:
    with pytest.raises(RatingError):
        combine(subsystems)


@pytest.mark.parametrize(
    ("category", "dc", "levels"),
    [  # ISO 13849-1:2006, 4.5.4, Table 7 (2015: Table 6): MTTFd low, medium, high
        ("B", "none", "ab-"),
        ("1", "none", "--c"),
        ("2", "low", "abc"),
        ("2", "medium", "bcd"),
        ("3", "low", "bcd"),
        ("3", "medium", "cdd"),
        ("4", "high", "--e"),
    ],
)
def test_bars(category, dc, levels) -> None:
    for years, level in zip((5, 20, 50), levels, strict=True):
        if level != "-":
            assert pl_by_bars(category, years, dc) == level
        elif category == "B":
            assert pl_by_bars(category, years, dc) == "b"  # a better part is no worse: counts as medium
        else:
            with pytest.raises(RatingError, match="high"):
                pl_by_bars(category, years, dc)


@pytest.mark.parametrize(
    "column",
    [
        ("B", "none"),
        ("1", "none"),
        ("2", "low"),
        ("2", "medium"),
        ("3", "low"),
        ("3", "medium"),
        ("4", "high"),
    ],
)
def test_bars_never_promise_more_than_the_best_cell_of_the_class(column) -> None:
    """The bars are the cautious reading: a channel just below the next class reaches at least their level."""
    for years in (9.1, 27, 100):
        try:
            level = pl_by_bars(column[0], years, column[1])
        except RatingError:
            continue
        assert reaches(performance_level(pfhd(column[0], years, column[1])), level)


@pytest.mark.parametrize(
    ("path", "level"),
    [  # AS 4024.1503 (adopts ISO 13849-1:2006), Figure A.1
        ("S1F1P1", "a"),
        ("S1F1P2", "b"),
        ("S1F2P1", "b"),
        ("S1F2P2", "c"),
        ("S2F1P1", "c"),  # also the example of I.2
        ("S2F1P2", "d"),
        ("S2F2P1", "d"),
        ("S2F2P2", "e"),
    ],
)
def test_risk_graph(path, level) -> None:
    assert required_pl(path[:2], path[2:4], path[4:]) == level


def test_risk_graph_by_keyword() -> None:
    assert required_pl(severity="S2", frequency="F1", avoidance="P1") == "c"


def test_risk_graph_is_monotone() -> None:
    for path in product("12", repeat=3):
        level = required_pl(*(letter + number for letter, number in zip("SFP", path, strict=True)))
        for index in (i for i in range(3) if path[i] == "1"):
            worse = [*path[:index], "2", *path[index + 1 :]]
            assert reaches(required_pl(*(a + b for a, b in zip("SFP", worse, strict=True))), level)


@pytest.mark.parametrize(
    "path", [("S3", "F1", "P1"), ("S1", "F0", "P1"), ("S1", "F1", ""), ("F1", "S1", "P1"), (2, 2, 2)]
)
def test_odd_risk(path) -> None:
    with pytest.raises(RatingError):
        required_pl(*path)


def test_reaches_is_the_order_of_the_letters() -> None:
    for low, high in combinations_with_replacement(PLS, 2):
        assert reaches(high, low)
        assert reaches(low, high) is (low == high)


def test_a_report_found_in_public_with_a_factor_of_a_thousand() -> None:
    """(50 000 · 0.5) / (2 · 1580 · 8760) is printed there as 9.0e-7; it is 9.03e-4, which reaches no level."""
    value = 50_000 * 0.5 / (2 * 1580 * 8760)
    assert value == pytest.approx(9.03e-4, rel=0.001)
    with pytest.raises(RatingError, match="no performance level"):
        performance_level(value)
