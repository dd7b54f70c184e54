"""Words for people: short, on one line, and advice only where it helps."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.bench.refusal import Refusal, advise, near_words, quoted

words = st.lists(st.text("abc", min_size=1, max_size=4), unique=True, max_size=6)


@given(st.one_of(st.text(), st.integers(), st.booleans(), st.none(), st.floats()))
def test_what_is_quoted_is_short_and_printable(value: object) -> None:
    shown = quoted(value)
    assert shown.isprintable()
    assert 0 < len(shown) <= 65


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        ("a b", "'a b'"),
        ("", "''"),
        (None, "nothing"),
        (True, "'true'"),
        (False, "'false'"),
        (10, "'10'"),
        (0.5, "'0.5'"),
        ("a\nb\tc\x00d\u2028e", "'a b c d e'"),
        ("x" * 60, f"'{'x' * 60}'"),
        ("x" * 61, f"'{'x' * 60}...'"),
        ("Ω µ 試", "'Ω µ 試'"),
    ],
)
def test_quoted(value: object, shown: str) -> None:
    assert quoted(value) == shown


@pytest.mark.parametrize(
    ("wrong", "right", "advice"),
    [
        ("wthin", ["of", "within", "source"], "did you mean within?"),
        ("MS", ["ms", "s", "min"], "did you mean ms?"),
        (
            "relay.chanel_a",
            ["relay.channel_a", "relay.channel_b"],
            "did you mean relay.channel_a or relay.channel_b?",
        ),
        ("x", ["of", "within"], "write one of of, within"),
        ("x", ["release"], "write release"),
        ("x", [], "remove it: nothing may stand here"),
        (
            "x",
            [f"n{number:02}" for number in range(13)],
            f"write one of {', '.join(f'n{n:02}' for n in range(12))}, ...",
        ),
        ("within" * 20, ["within"], "write within"),
    ],
)
def test_advice(wrong: str, right: list[str], advice: str) -> None:
    assert advise(wrong, right) == advice


@given(st.text("abc", min_size=1, max_size=4), words)
def test_near_words_are_right_words_and_at_most_three(wrong: str, right: list[str]) -> None:
    near = near_words(wrong, right)
    assert set(near) <= set(right)
    assert len(near) == len(set(near)) <= 3
    if wrong in right:
        assert near[0] == wrong


@given(st.text("abc", min_size=1, max_size=4), words, st.randoms(use_true_random=False))
def test_advice_does_not_depend_on_order(wrong: str, right: list[str], rng: object) -> None:
    mixed = list(right)
    rng.shuffle(mixed)  # type: ignore[attr-defined]
    assert advise(wrong, mixed) == advise(wrong, right)


def test_no_search_among_very_many() -> None:
    assert near_words("n1", [f"n{number}" for number in range(301)]) == []


def test_a_refusal_says_why_and_what_instead() -> None:
    refusal = Refusal("it is empty", "write a name", 4)
    assert str(refusal) == "it is empty; write a name"
    assert (refusal.why, refusal.instead, refusal.column) == ("it is empty", "write a name", 4)
    assert Refusal("a", "b").column is None
