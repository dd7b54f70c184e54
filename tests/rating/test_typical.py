"""Typical values and coverage of measures, cell by cell."""

import pytest

from interlock.errors import RatingError
from interlock.rating.step import Mark
from interlock.rating.typical import COVERAGE, TYPICAL, typical_b10d


@pytest.mark.parametrize(
    ("kind", "b10d_2006", "b10d_2015"),
    [  # Table C.1: 2006 seen in AS 4024.1503; 2015 from memory, which differs in one row
        ("pneumatic", 2e7, 2e7),
        ("relay_small_load", 2e7, 2e7),
        ("relay_full_load", 4e5, 4e5),
        ("proximity_switch_small_load", 2e7, 2e7),
        ("proximity_switch_full_load", 4e5, 4e5),
        ("contactor_small_load", 2e7, 2e7),
        ("contactor_nominal_load", 2e6, 1.3e6),
        ("position_switch", 2e7, 2e7),
        ("position_switch_separate_actuator", 2e6, 2e6),
        ("emergency_stop", 1e5, 1e5),
        ("emergency_stop_full_demand", 6050, 6050),
        ("push_button", 1e5, 1e5),
        ("mechanical", None, None),
        ("hydraulic", None, None),
    ],
)
def test_table_c_1(kind, b10d_2006, b10d_2015) -> None:
    assert typical_b10d(kind, 2006) == b10d_2006
    assert typical_b10d(kind, 2015) == typical_b10d(kind, 2023) == b10d_2015


def test_every_kind_is_tested() -> None:
    assert len(TYPICAL) == 14


def test_parts_with_an_mttfd() -> None:
    assert TYPICAL["mechanical"].mttfd_years == TYPICAL["hydraulic"].mttfd_years == 150


def test_the_cell_from_memory_says_so() -> None:
    assert {kind for kind, row in TYPICAL.items() if row.mark is Mark.FROM_MEMORY} == {
        "contactor_nominal_load"
    }


@pytest.mark.parametrize("kind", ["position_switch", "emergency_stop", "push_button"])
def test_footnote_a(kind) -> None:
    assert "direct opening" in TYPICAL[kind].only_if


@pytest.mark.parametrize(
    ("measure", "low", "high"),
    [  # AS 4024.1503, Table E.1
        ("cyclic_test_stimulus", 0.90, 0.90),
        ("plausibility_linked_contacts", 0.99, 0.99),
        ("cross_monitoring", 0.0, 0.99),
        ("cross_monitoring_dynamic", 0.90, 0.90),
        ("cross_monitoring_complete", 0.99, 0.99),
        ("direct_monitoring", 0.99, 0.99),
        ("indirect_monitoring", 0.90, 0.99),
        ("by_the_process", 0.0, 0.99),
        ("sensor_characteristic", 0.60, 0.60),
        ("one_output_channel", 0.0, 0.99),
        ("redundant_shut_off_unmonitored", 0.0, 0.0),
        ("redundant_shut_off_one_monitored", 0.90, 0.90),
        ("redundant_shut_off_monitored", 0.99, 0.99),
        ("time_watchdog", 0.60, 0.60),
        ("time_and_logic_watchdog", 0.90, 0.90),
        ("dynamic_principle", 0.99, 0.99),
    ],
)
def test_table_e_1(measure, low, high) -> None:
    assert (COVERAGE[measure].low, COVERAGE[measure].high) == (low, high)


def test_every_measure_is_tested_and_none_is_full() -> None:
    assert len(COVERAGE) == 16
    assert all(row.low <= row.high < 1 for row in COVERAGE.values())


@pytest.mark.parametrize("measure", ["cross_monitoring", "one_output_channel"])
def test_rarely_opened_covers_are_warned_of(measure) -> None:
    assert "how often" in COVERAGE[measure].caution


def test_odd_kinds() -> None:
    with pytest.raises(RatingError, match="typical is 'contactor'"):
        typical_b10d("contactor", 2015)
