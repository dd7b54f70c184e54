"""What no act shows is told with what to inspect instead, in words that fit the fault."""

import pytest
from plan_benches import DEMO, SAMPLE, bench_of, plan_of

from interlock.chain.fault_list import faults_of
from interlock.procedure.dark import dark


def inspect(fault: str) -> str:
    bench = bench_of(DEMO)
    return dark(bench, next(one for one in faults_of(bench) if one.id == fault), by_order=False).inspect


@pytest.mark.parametrize(
    ("fault", "words"),
    [
        ("prime.sto_a_dead", "each torque-off channel of the prime mover alone"),
        ("prime.cross_short", "against each other"),
        ("hood.cross_short", "two channels at the guard hood"),
        ("prime.wire_sto_a_short_to_supply", "contact with the supply"),
        ("prime.wire_sto_a_break", "from end to end"),
        ("contactor.mirror_stays_open", "contact mirror"),
        ("link.discharge_lost", "maker's instructions"),
        ("setpoints.zeroing_lost", "input zero"),
    ],
)
def test_the_inspection_fits_the_fault(fault: str, words: str) -> None:
    assert words in inspect(fault)


@pytest.mark.parametrize("name", [DEMO, SAMPLE])
def test_single_channels_and_cross_shorts_are_what_stays_dark(name: str) -> None:
    """Both torque-off channels fall together at each lawful act: one dead channel hides (common practice)."""
    units = bench_of(name).required.effects.torque_off.of
    told = {one.fault for one in plan_of(name).unrevealed}
    assert {
        f"{unit}.{what}" for unit in units for what in ("sto_a_dead", "sto_b_dead", "cross_short")
    } <= told
    assert all(one.why and one.words and one.inspect for one in plan_of(name).unrevealed)


def test_measuring_means_locked_off_and_proved_dead() -> None:
    for one in plan_of(DEMO).unrevealed:
        assert ("measure" not in one.inspect) or ("locked off and proved dead" in one.inspect)


def test_a_fault_that_shows_in_one_order_of_contacts_only_says_so() -> None:
    bench = bench_of(DEMO)
    assert "certain order" in dark(bench, faults_of(bench)[0], by_order=True).why
