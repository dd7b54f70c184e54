"""Rejected pieces: told together if they are neighbours of one kind, never lost."""

from hypothesis import given
from hypothesis import strategies as st

from interlock.trace.model import QualityKind
from interlock.trace.reading import MOST, Rejected, grouped

PIECES = st.lists(
    st.tuples(st.integers(0, 3), st.sampled_from("ab"), st.booleans()).map(
        lambda parts: (parts[0], parts[1], parts[2])
    ),
    max_size=30,
)


@given(PIECES)
def test_grouping_keeps_every_piece(parts: list[tuple[int, str, bool]]) -> None:
    row, pieces = 0, []
    for place, (step, why, end) in enumerate(parts):
        row += step
        pieces.append(Rejected(place, place, 1, row, row, why, until_end=end))
    groups = grouped(pieces)
    assert sum(group.count for group in groups) == len(pieces)
    for group in groups:
        members = pieces[group.place : group.last + 1]
        assert len(members) == group.count
        assert {(member.row, member.why, member.until_end) for member in members} == {
            (group.row, group.why, group.until_end)
        }


def test_too_many_groups_end_in_one_that_covers_the_rest() -> None:
    pieces = [Rejected(n, n, 1, n, n, "a", QualityKind.UNREADABLE) for n in range(MOST + 50)]
    groups = grouped(pieces)
    assert len(groups) == MOST
    last = groups[-1]
    assert (last.row, last.last_row, last.count) == (MOST - 1, MOST + 49, 51)
    assert sum(group.count for group in groups) == MOST + 50


def test_last_group_keeps_the_farthest_reach() -> None:
    pieces = [Rejected(n, n, 1, n, n, "a") for n in range(MOST)]
    torn = Rejected(MOST, MOST, 1, MOST, MOST, "b", QualityKind.TRUNCATED, until_end=True)
    assert grouped([*pieces, torn])[-1].until_end
