"""What a person does in one go: contacts that move together are one move, and the bench is at rest after it."""

import numpy as np
import pytest
from plan_benches import DEMO, bench_of

from interlock.procedure.faulted import SOUND, faulted
from interlock.procedure.moves import moves_of, table_of


@pytest.fixture(scope="module")
def chain():
    return faulted(bench_of(DEMO))


def by_id(name: str):
    return next(move for move in moves_of(bench_of(DEMO)) if move.id == name)


def test_the_two_contacts_of_the_hood_move_together() -> None:
    hood = [move for move in moves_of(bench_of(DEMO)) if move.device == "hood"]
    assert [move.words for move in hood] == ["open the guard hood", "close the guard hood"]
    assert hood[0].orders == (("open_a", "open_b"), ("open_b", "open_a"))


def test_every_other_act_is_a_move_of_its_own() -> None:
    assert by_id("reset.press").orders == (("press",),)
    assert by_id("emergency.release").words == "unlatch the emergency stop"


def test_every_fault_has_its_own_beginning(chain) -> None:
    layout, states = chain.graph.layout, chain.graph.states
    begun = [layout.unpack(int(states[at]))["the fault"] for at in chain.first]
    assert begun == [SOUND, *(one.id for one in chain.faults)]


def test_no_fault_comes_or_goes_later(chain) -> None:
    graph = chain.graph
    fault = [graph.layout.unpack(int(word))["the fault"] for word in graph.states.tolist()]
    later = np.flatnonzero(graph.source != 0)
    assert all(fault[a] == fault[b] for a, b in zip(graph.source[later], graph.target[later], strict=True))


def test_after_a_move_nothing_waits(chain) -> None:
    table = table_of(chain.graph, chain.faulty.chain.events, moves_of(bench_of(DEMO)), 0)
    assert (table.rest[table.target] == table.target).all()
    assert (table.rest[table.rest] == table.rest).all()


def test_supply_on_waits_for_the_contactor(chain) -> None:
    moves = moves_of(bench_of(DEMO))
    table = table_of(chain.graph, chain.faulty.chain.events, moves, 0)
    at = int(table.rest[0])
    after = int(table.target[[move.id for move in moves].index("supply_on.press"), at])
    state = chain.graph.layout.unpack(int(chain.graph.states[after]))
    assert (state["contactor"], state["link"]) == ("closed", "live")


def test_an_impossible_act_changes_nothing(chain) -> None:
    moves = moves_of(bench_of(DEMO))
    table = table_of(chain.graph, chain.faulty.chain.events, moves, 0)
    row, at = [move.id for move in moves].index("emergency.release"), int(table.rest[0])
    assert not table.possible[row, at]
    assert table.target[row, at] == at
