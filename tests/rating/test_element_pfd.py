"""Elements in low demand: each architecture against the reference's worked values, and what the derived test finds."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from interlock.rating.element_pfd import element_pfd, found_by_plan
from interlock.rating.inputs_bench import Element
from interlock.rating.step import Trail

# λD 2.5e-6 with DC 60 %, T1 8760 h, 8 h, β 10 %, βD 5 % (reference, section 3)
BASE: dict[str, Any] = {
    "devices": ["k1"],
    "architecture": "1oo1",
    "lambda_du_per_h": 1e-6,
    "lambda_dd_per_h": 1.5e-6,
    "proof_test_h": 8760,
    "proof_test_coverage": "complete",
    "lifetime_h": 175_200,
    "mttr_h": 8,
    "source": "data sheet",
}
COMMON = {"beta": 0.1, "beta_d": 0.05}
WATCHED = {**COMMON, "architecture": "1oo2D", "lambda_sd_per_h": 1.5e-6, "switching": 1.0}
ALL_SHOWN = {"k1.welds": True, "k1.wire_coil_break": True}


def element(**changes: Any) -> Element:
    return Element.model_validate(
        {key: value for key, value in {**BASE, **changes}.items() if value is not None}
    )


def pfd(revealed=ALL_SHOWN, **changes: Any) -> float:
    return element_pfd("k1", element(**changes), revealed, Trail())


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({}, 4.400e-3),
        ({"architecture": "1oo2", **COMMON}, 4.618e-4),
        ({"architecture": "2oo2"}, 8.800e-3),
        ({"architecture": "2oo3", **COMMON}, 5.065e-4),
        (WATCHED, 4.610e-4),
    ],
    ids=["1oo1", "1oo2", "2oo2", "2oo3", "1oo2D"],
)
def test_worked_values(changes, expected) -> None:
    """Reference, section 3, computed by hand from the formulas of IEC 61508-6:2010, Annex B (from memory)."""
    assert pfd(**changes) == pytest.approx(expected, rel=0.005)


@pytest.mark.parametrize("switching", [0.9, 0.98, 0.999])
def test_a_comparison_that_may_fail_to_switch_over_adds_to_it(switching) -> None:
    """2 (1 - K) λDD tCE' comes on top (IEC 61508-6:2010, B.3.2.2.4, from memory)."""
    t_ce = (1e-6 * (4380 + 8) + 3e-6 * 8) / 4e-6
    added = 2 * (1 - switching) * 1.5e-6 * t_ce
    assert pfd(**{**WATCHED, "switching": switching}) == pytest.approx(pfd(**WATCHED) + added)


# what the derived proof test finds


def test_a_test_that_shows_every_fault_finds_all() -> None:
    assert found_by_plan(element(), ALL_SHOWN)[0] == 1.0


def test_a_fault_in_the_dark_may_be_all_of_the_failures() -> None:
    share, why = found_by_plan(element(), {**ALL_SHOWN, "k1.mirror_stays_open": False})
    assert share == 0.0
    assert "does not show k1.mirror_stays_open: state fault_shares" in why


def test_faults_of_other_devices_do_not_matter() -> None:
    assert found_by_plan(element(), {**ALL_SHOWN, "relay.cross_short": False})[0] == 1.0
    assert found_by_plan(element(), {"relay.cross_short": True})[0] == 0.0
    assert (
        found_by_plan(element(devices=["k1", "relay"]), {**ALL_SHOWN, "relay.cross_short": False})[0] == 0.0
    )


@pytest.mark.parametrize(
    ("shares", "expected"),
    [
        ({"k1.welds": 0.8, "k1.wire_coil_break": 0.1}, 0.9),  # what is not named counts as not found
        ({"k1.welds": 0.7, "k1.mirror_stays_open": 0.3}, 0.7),
        ({"k1.mirror_stays_open": 1.0}, 0.0),
        ({"k1.unheard_of": 1.0}, 0.0),
        ({"k1.welds": 0.1, "k1.wire_coil_break": 0.2}, 0.3),  # as written: no binary dust
    ],
)
def test_shares_tell_how_much_the_shown_faults_make_up(shares, expected) -> None:
    revealed = {**ALL_SHOWN, "k1.mirror_stays_open": False}
    assert found_by_plan(element(fault_shares=shares), revealed)[0] == expected


def test_where_every_fault_shows_shares_take_nothing_away() -> None:
    assert found_by_plan(element(fault_shares={"k1.welds": 0.5}), ALL_SHOWN)[0] == 1.0


@pytest.mark.parametrize(
    ("stated", "derived", "used"), [(0.9, 0.95, 0.9), (0.9, 0.6, 0.6), ("complete", 0.6, 0.6)]
)
def test_the_lesser_of_stated_and_derived_counts(stated, derived, used) -> None:
    """c T1 + (1 - c) T2 (IEC 61508-6:2010, B.3.2.5, from memory)."""
    trail = Trail()
    dark = {**ALL_SHOWN, "k1.mirror_stays_open": False}
    given = element(proof_test_coverage=stated, fault_shares={"k1.welds": derived})
    element_pfd("k1", given, dark, trail)
    interval = next(step.result for step in trail.steps if "interval" in step.title)
    assert interval == pytest.approx(used * 8760 + (1 - used) * 175_200)


def test_without_a_derived_test_the_stated_coverage_is_used_and_nothing_is_said_of_the_plan() -> None:
    trail = Trail()
    element_pfd("k1", element(proof_test_coverage=0.9), None, trail)
    assert not any("finds" in step.title for step in trail.steps)


shares = st.dictionaries(
    st.sampled_from(["k1.welds", "k1.wire_coil_break", "k1.mirror_stays_open"]),
    st.integers(1, 33).map(lambda percent: percent / 100),
    min_size=1,
)


@given(shares, st.sampled_from(["k1.welds", "k1.wire_coil_break", "k1.mirror_stays_open"]))
def test_a_test_that_shows_one_fault_less_never_finds_more(known, hidden) -> None:
    everything = dict.fromkeys(["k1.welds", "k1.wire_coil_break", "k1.mirror_stays_open"], True)
    less = {**everything, hidden: False}
    for one in (element(fault_shares=known), element()):
        assert found_by_plan(one, less)[0] <= found_by_plan(one, everything)[0]
        assert 0 <= found_by_plan(one, less)[0] <= 1


@pytest.mark.parametrize("architecture", ["1oo1", "2oo2", "1oo2", "2oo3", "1oo2D"])
def test_finding_less_never_lowers_the_probability(architecture) -> None:
    more = {} if architecture in ("1oo1", "2oo2") else {**(WATCHED if architecture == "1oo2D" else COMMON)}
    found = [
        pfd(**{**more, "architecture": architecture, "proof_test_coverage": coverage})
        for coverage in (0.99, 0.9, 0.6, 0.0)
    ]
    assert found == sorted(found)


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"architecture": "1oo2D", **COMMON}, "1oo2D needs lambda_sd_per_h and switching"),
        ({"lambda_sd_per_h": 1e-6}, "only for 1oo2D"),
        ({"switching": 0.5}, "only for 1oo2D"),
        ({**WATCHED, "lambda_sd_per_h": 1.0}, "at most 1e-4"),
        ({**WATCHED, "switching": 1.1}, "less than or equal to 1"),
        ({**WATCHED, "beta": None}, "needs beta and beta_d"),
        ({"devices": []}, "at least 1"),
        ({"devices": None}, "Field required"),
        ({"fault_shares": {"k2.welds": 0.5}}, "name faults of k1"),
        ({"fault_shares": {"k1.welds": 0.6, "k1.wire_coil_break": 0.5}}, "more than 1"),
        ({"fault_shares": {"k1.welds": 0}}, "greater than 0"),
        ({"fault_shares": {"k1.welds": -0.1}}, "greater than 0"),
        ({"fault_shares": {"k1.welds": float("nan")}}, "less than or equal to 1"),
        ({"fault_shares": {}}, "at least 1"),
    ],
)
def test_odd_elements_are_errors(changes, says) -> None:
    with pytest.raises(ValidationError, match=says):
        element(**changes)


def test_shares_of_exactly_one_are_no_more_than_one() -> None:
    """0.1 ten times over is 1 as written, though not in binary."""
    faults = {f"k1.f{number}": 0.1 for number in range(10)}
    assert (
        found_by_plan(element(fault_shares=faults), {**dict.fromkeys(faults, True), "k1.x": False})[0] == 1.0
    )
