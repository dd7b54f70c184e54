"""A step shows formula, numbers, source and result; words in a formula survive the filling in."""

import pytest

from interlock.rating.step import Mark, Step, Trail, shown


def test_numbers_fill_the_formula() -> None:
    step = Step(
        "K1: MTTFd",
        "B10d / (0.1 * nop)",
        (("B10d", 1.3e6), ("nop", 7680.0)),
        "C.1",
        1692.708,
        "years",
        Mark.PUBLISHED,
    )
    assert step.filled_in() == "1300000 / (0.1 * 7680)"
    assert str(step) == (
        "K1: MTTFd: B10d / (0.1 * nop) = 1300000 / (0.1 * 7680) = 1692.71 years "
        "[C.1; seen in a public text of the standard or of its earlier edition]"
    )


def test_a_name_inside_another_is_left_alone() -> None:
    step = Step("x", "M1 + M10", (("M1", 1.0), ("M10", 10.0)), "s", 11.0, "", Mark.COMPUTED)
    assert step.filled_in() == "1 + 10"


def test_words_without_numbers_are_not_repeated() -> None:
    step = Step("K1: B10d", "as stated", (), "data sheet", 1.3e6, "cycles", Mark.GIVEN)
    assert str(step) == "K1: B10d: as stated = 1300000 cycles [data sheet; given in the bench description]"


def test_levels_may_stand_in_a_formula() -> None:
    step = Step("level", "lowest of L1, L2", (("L1", "e"), ("L2", "d")), "6.3", "d", "", Mark.PUBLISHED)
    assert step.filled_in() == "lowest of e, d"


def test_a_trail_keeps_order_and_hands_results_on() -> None:
    trail = Trail()
    years = trail.note("a", "b / c", {"b": 6.0, "c": 2.0}, 3.0, source="s", unit="years")
    level = trail.note("d", "class of a", {"a": years}, "low", source="t", mark=Mark.FROM_MEMORY)
    assert (years, level) == (3.0, "low")
    assert [step.title for step in trail.steps] == ["a", "d"]
    assert trail.steps[1].mark is Mark.FROM_MEMORY
    assert trail.steps[0].numbers == (("b", 6.0), ("c", 2.0))


def test_marks_say_what_to_do_about_memory() -> None:
    assert "check it once against a bought copy" in Mark.FROM_MEMORY
    assert len({str(mark) for mark in Mark}) == 7


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (2e6, "2000000"),
        (175_200.0, "175200"),
        (0.0, "0"),
        (-3.0, "-3"),
        (999_999_999.0, "999999999"),
        (1e9, "1e+09"),
        (4.29e-8, "4.29e-08"),
        (1.23456789, "1.23457"),
        (1234567.8, "1.23457e+06"),
        ("PL d", "PL d"),
    ],
)
def test_how_a_number_is_shown(value, text) -> None:
    assert shown(value) == text
