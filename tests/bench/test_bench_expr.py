"""The wiring language: laws of reading and writing, truth against Python's own, errors at their column."""

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.bench.expr import (
    WORDS,
    And,
    Const,
    Expr,
    ExprError,
    Name,
    Not,
    Or,
    evaluate,
    names,
    parse,
    rename,
    render,
)

plain_names = st.from_regex(r"[a-z][a-z0-9_]{0,3}(\.[a-z][a-z0-9_]{0,3})?", fullmatch=True).filter(
    lambda text: (
        not {*text.split(".")} & (WORDS | {"in", "is", "if", "as"})
    )  # the last: words of Python, the oracle
)
leaves = st.one_of(plain_names.map(Name), st.booleans().map(Const))


def grown(parts: st.SearchStrategy[Expr]) -> st.SearchStrategy[Expr]:
    several = st.lists(parts, min_size=2, max_size=3).map(tuple)
    return st.one_of(parts.map(Not), several.map(And), several.map(Or))


exprs = st.recursive(leaves, grown, max_leaves=8)


@given(exprs)
def test_what_is_written_is_read_back(expr: Expr) -> None:
    assert parse(render(expr)) == expr


@given(exprs)
def test_writing_is_stable(expr: Expr) -> None:
    assert render(parse(render(expr))) == render(expr)


@given(exprs, st.data())
def test_truth_is_that_of_python(expr: Expr, data: st.DataObject) -> None:
    """Python's own `and`, `or`, `not` and brackets are the oracle; names become plain ones."""
    truth = {name: data.draw(st.booleans()) for name in sorted(names(expr))}
    text = render(expr).replace("always", "True").replace("never", "False")
    scope = {name.replace(".", "__"): value for name, value in truth.items()}
    for name in sorted(truth, key=len, reverse=True):
        text = text.replace(name, name.replace(".", "__")) if "." in name else text
    assert evaluate(expr, truth.__getitem__) == eval(text, {"__builtins__": {}}, scope)  # noqa: S307 - an oracle


@given(exprs)
def test_names_are_all_that_truth_depends_on(expr: Expr) -> None:
    asked: set[str] = set()

    def value(name: str) -> bool:
        asked.add(name)
        return True

    evaluate(expr, value)
    assert asked <= names(expr)


@given(exprs)
def test_new_names_stand_in_the_place_of_old_ones(expr: Expr) -> None:
    renamed = rename(expr, lambda name: Not(Name(f"x_{name.replace('.', '_')}")))
    assert names(renamed) == {f"x_{name.replace('.', '_')}" for name in names(expr)}
    truth = dict.fromkeys(names(expr), True)
    assert evaluate(renamed, lambda _: False) == evaluate(expr, truth.__getitem__)


@given(exprs)
def test_the_same_name_changes_nothing(expr: Expr) -> None:
    assert rename(expr, Name) == expr


@given(exprs, st.sampled_from([" ", "  ", "\n", "\t", "\u00a0"]))
def test_space_means_nothing(expr: Expr, gap: str) -> None:
    text = render(expr).replace("(", f"({gap}").replace(")", f"{gap})").replace(" ", gap)
    assert parse(f"{gap}{text}{gap}") == expr


@pytest.mark.parametrize(
    ("text", "same"),
    [
        ("a and b or c", "(a and b) or c"),
        ("a or b and c", "a or (b and c)"),
        ("not a and b", "(not a) and b"),
        ("not a or b", "(not a) or b"),
        ("not not a", "not (not a)"),
        ("a and not b and c", "a and (not b) and c"),
    ],
)
def test_not_binds_more_than_and_more_than_or(text: str, same: str) -> None:
    for truth in product([False, True], repeat=3):
        value = dict(zip("abc", truth, strict=True)).__getitem__
        assert evaluate(parse(text), value) == evaluate(parse(same), value)


@pytest.mark.parametrize(
    ("text", "expr"),
    [
        ("always", Const(True)),
        ("never", Const(False)),
        ("relay.out_a", Name("relay.out_a")),
        ("not a.b", Not(Name("a.b"))),
        ("(a)", Name("a")),
        ("((a or b))", Or((Name("a"), Name("b")))),
        ("a and b and c", And((Name("a"), Name("b"), Name("c")))),
        ("a and (b and c)", And((Name("a"), And((Name("b"), Name("c")))))),
    ],
)
def test_readings(text: str, expr: Expr) -> None:
    assert parse(text) == expr


@pytest.mark.parametrize(
    ("text", "column", "why"),
    [
        ("", 0, "the expression ends where a name should stand"),
        ("   ", 3, "the expression ends where a name should stand"),
        ("a and", 5, "the expression ends where a name should stand"),
        ("not", 3, "the expression ends where a name should stand"),
        ("and a", 0, "'and' stands where a name should"),
        ("a and and b", 6, "'and' stands where a name should"),
        ("a or )", 5, "')' stands where a name should"),
        ("()", 1, "')' stands where a name should"),
        ("a b", 2, "'b' follows a complete expression"),
        ("a not b", 2, "'not' follows a complete expression"),
        ("a)", 1, "')' follows a complete expression"),
        ("(a", 2, "a closing bracket is missing"),
        ("(a and b c)", 9, "a closing bracket is missing"),
        ("a & b", 2, "'&' has no meaning here"),
        ("a and !b", 6, "'!' has no meaning here"),
        ("a.b.c", 3, "'.' has no meaning here"),
        ("a.", 1, "'.' has no meaning here"),
        ("1a", 0, "'1' has no meaning here"),
        ("a and é", 6, "'é' has no meaning here"),
        ("a \x00", 2, "' ' has no meaning here"),
        ("a == b", 2, "'=' has no meaning here"),
    ],
)
def test_errors_name_the_place(text: str, column: int, why: str) -> None:
    with pytest.raises(ExprError) as caught:
        parse(text)
    assert (caught.value.column, caught.value.why) == (column, why)
    assert caught.value.instead == "write names joined by and, or, not and brackets"


@pytest.mark.parametrize("opening", ["(", "not "])
def test_deep_nesting_is_refused_at_its_depth(opening: str) -> None:
    with pytest.raises(ExprError, match="brackets and 'not' nest deeper than 50") as caught:
        parse(opening * 10_000 + "a")
    assert caught.value.column == 51 * len(opening)


def test_nesting_up_to_the_limit_is_read() -> None:
    assert parse("(" * 50 + "a" + ")" * 50) == Name("a")
    assert names(parse("not " * 50 + "a")) == {"a"}


def test_a_long_chain_is_read_in_time() -> None:
    expr = parse(" and ".join(f"a{number}" for number in range(20_000)))
    assert len(names(expr)) == 20_000


@given(st.text(alphabet="ab.() andort&\n", max_size=30))
def test_any_text_is_read_or_refused_inside_it(text: str) -> None:
    try:
        expr = parse(text)
    except ExprError as error:
        assert 0 <= error.column <= len(text)
    else:
        assert parse(render(expr)) == expr
