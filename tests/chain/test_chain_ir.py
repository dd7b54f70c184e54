"""The intermediate language: folding keeps the meaning, atoms are all found, `was` shifts the moment."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.chain import ir
from interlock.chain.reference import holds

VALUES = ("red", "green", "blue")
FIELDS = ("lamp", "sign")
EVENTS = (0, 1, 2)

sets = st.frozensets(st.sampled_from(VALUES))
present = st.builds(ir.Now, st.sampled_from(FIELDS), sets) | st.builds(ir.Const, st.booleans())
leaves = present | st.builds(ir.Was, st.sampled_from(FIELDS), sets)
leaves |= st.builds(ir.By, st.frozensets(st.sampled_from(EVENTS)))


def terms(of: st.SearchStrategy[ir.Term]) -> st.SearchStrategy[ir.Term]:
    def wider(part: st.SearchStrategy[ir.Term]) -> st.SearchStrategy[ir.Term]:
        many = st.lists(part, min_size=1, max_size=3).map(tuple)
        return st.builds(ir.No, part) | st.builds(ir.All, many) | st.builds(ir.Any, many)

    return st.recursive(of, wider, max_leaves=8)


states = st.fixed_dictionaries({field: st.sampled_from(VALUES) for field in FIELDS})
events = st.sampled_from([None, *EVENTS])


@given(st.lists(terms(leaves), max_size=4), states, states, events)
def test_all_of_is_true_exactly_if_each_part_is(parts, was, now, event) -> None:
    expected = all(holds(part, was, now, event) for part in parts)
    assert holds(ir.all_of(parts), was, now, event) is expected


@given(st.lists(terms(leaves), max_size=4), states, states, events)
def test_any_of_is_true_exactly_if_some_part_is(parts, was, now, event) -> None:
    expected = any(holds(part, was, now, event) for part in parts)
    assert holds(ir.any_of(parts), was, now, event) is expected


@given(terms(leaves), states, states, events)
def test_no_is_true_exactly_if_the_part_is_not(part, was, now, event) -> None:
    assert holds(ir.no(part), was, now, event) is not holds(part, was, now, event)


def test_no_takes_a_negation_away() -> None:
    red = ir.Now("lamp", frozenset({"red"}))
    assert ir.no(ir.no(red)) == red
    assert ir.no(ir.TRUE) == ir.FALSE


@given(terms(present), states, states, events)
def test_was_speaks_of_the_state_before(term, before, after, event) -> None:
    assert holds(ir.was(term), before, after, event) is holds(term, before, before, event)


@given(terms(leaves))
def test_was_leaves_nothing_that_speaks_of_the_present(term) -> None:
    assert not any(isinstance(atom, ir.Now) for atom in ir.atoms(ir.was(term)))


@given(terms(leaves), states, states, events)
def test_a_term_of_which_all_atoms_are_known_is_a_constant(term, was, now, event) -> None:
    known = ir.mapped(term, lambda atom: ir.Const(holds(atom, was, now, event)))
    assert known == ir.Const(holds(term, was, now, event))


@given(terms(leaves), states, states, events)
def test_with_each_atom_kept_it_means_the_same(term, was, now, event) -> None:
    assert holds(ir.mapped(term, lambda atom: atom), was, now, event) is holds(term, was, now, event)


@given(terms(leaves), states, states, events)
def test_what_replaces_an_atom_is_not_looked_into(term, was, now, event) -> None:
    """Each field's present turned into its past and back: nothing is replaced twice."""
    swapped = {ir.Now: ir.Was, ir.Was: ir.Now}

    def swap(atom: ir.Now | ir.Was | ir.By) -> ir.Term:
        return atom if isinstance(atom, ir.By) else swapped[type(atom)](atom.field, atom.values)

    assert holds(ir.mapped(term, swap), was, now, event) is holds(term, now, was, event)


@given(terms(leaves), states, states, states, events)
def test_a_term_depends_on_its_atoms_alone(term, was, now, other, event) -> None:
    named = {atom.field for atom in ir.atoms(term) if isinstance(atom, ir.Now)}
    changed = {field: now[field] if field in named else other[field] for field in FIELDS}
    assert holds(term, was, changed, event) is holds(term, was, now, event)


@pytest.mark.parametrize(
    ("parts", "folded"),
    [
        ([], ir.TRUE),
        ([ir.TRUE, ir.TRUE], ir.TRUE),
        ([ir.TRUE, ir.By(frozenset({1}))], ir.By(frozenset({1}))),
        ([ir.By(frozenset({1})), ir.FALSE], ir.FALSE),
    ],
)
def test_all_of_folds_constants(parts, folded) -> None:
    assert ir.all_of(parts) == folded


@pytest.mark.parametrize(
    ("parts", "folded"),
    [
        ([], ir.FALSE),
        ([ir.FALSE, ir.FALSE], ir.FALSE),
        ([ir.FALSE, ir.By(frozenset({1}))], ir.By(frozenset({1}))),
        ([ir.By(frozenset({1})), ir.TRUE], ir.TRUE),
    ],
)
def test_any_of_folds_constants(parts, folded) -> None:
    assert ir.any_of(parts) == folded


def test_atoms_come_in_the_order_written() -> None:
    red, by = ir.Now("lamp", frozenset({"red"})), ir.By(frozenset({2}))
    assert list(ir.atoms(ir.Any((ir.No(red), ir.All((by, red)), ir.TRUE)))) == [red, by, red]
