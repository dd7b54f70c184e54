"""From the search under faults to what a claim may rest on: anything not seen to its end is not shown."""

from collections.abc import Collection, Mapping
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.bench import load_bench
from interlock.chain.fault_result import CategoryResult, FaultReport, FaultResult, FaultSearch
from interlock.demo.walk import BENCH_FILE
from interlock.evidence import structure
from interlock.rating.inputs import RatingInputs
from interlock.rating.section import rating_of

BENCH = load_bench(BENCH_FILE)
ALL = ("B", "1", "3", "4")
TWO, ONE = ("B", "1", "3"), ("B", "1")
EFFECTS = ("torque_off", "references_zero")


def report(*rows: tuple[str, str, tuple[str, ...]], whole: bool = True) -> FaultReport:
    """What a search found: function, effect and the categories that it carries."""
    found = tuple(CategoryResult(function, effect, carried, ()) for function, effect, carried in rows)
    return FaultReport(FaultSearch(1, 1, 1, whole, ""), (), found, ())


def inputs(*, claims: Mapping[str, str] | None = None, effects: list[str] | None = None) -> RatingInputs:
    """A rating of one function whose subsystems claim these categories; None: as rated by a maker."""
    section = {
        "edition": 2015,
        "parts": {name: {"source": "s", "mttfd_years": 50} for name in ("p1", "p2")},
        "functions": {
            "hood_stop": {
                "required": {"pl": "c"},
                "effects": effects,
                "subsystems": {
                    name: {"category": category, "channels": [["p1"], ["p2"]]}
                    for name, category in (claims or {"contacts": "3"}).items()
                },
            }
        },
    }
    return RatingInputs.model_validate(section)


@pytest.fixture
def shown(monkeypatch: pytest.MonkeyPatch):
    """What is shown for a rating after a search with a given outcome; the number of faults asked for is kept."""
    asked: list[int] = []

    def run(found: FaultReport, rated: RatingInputs) -> Mapping[str, Collection[object] | None]:
        def search(_bench, most):
            asked.append(most)
            return found

        monkeypatch.setattr(structure, "judge_faults", search)
        return structure.shown_categories(structure.fault_report(BENCH, rated), rated, BENCH)

    run.asked = asked  # type: ignore[attr-defined]
    return run


def test_what_every_effect_carries_the_function_carries(shown) -> None:
    found = report(("hood_stop", "torque_off", ALL), ("hood_stop", "references_zero", TWO))
    assert shown(found, inputs()) == {"hood_stop": TWO}


def test_only_the_effects_that_are_rated_count(shown) -> None:
    found = report(("hood_stop", "torque_off", TWO), ("hood_stop", "references_zero", ONE))
    assert shown(found, inputs(effects=["torque_off"])) == {"hood_stop": TWO}
    assert shown(found, inputs()) == {"hood_stop": ONE}


def test_effects_of_other_functions_do_not_count(shown) -> None:
    found = report(("hood_stop", "torque_off", TWO), ("button_stop", "torque_off", ONE))
    assert shown(found, inputs()) == {"hood_stop": TWO}


@pytest.mark.parametrize(
    "found",
    [
        report(("hood_stop", "torque_off", TWO), whole=False),
        report(("hood_stop", "torque_off", ())),
        report(("button_stop", "torque_off", TWO)),
        report(),
    ],
    ids=["not searched to the end", "nothing carried", "function not searched", "nothing searched"],
)
def test_what_was_not_seen_to_its_end_is_not_shown(shown, found) -> None:
    """Neither refused nor passed: `rate` takes None for not examined."""
    assert shown(found, inputs()) == {"hood_stop": None}


def test_an_effect_that_the_search_does_not_know_is_not_shown(shown) -> None:
    found = report(("hood_stop", "torque_off", TWO))
    assert shown(found, inputs(effects=["torque_off", "references_zero"])) == {"hood_stop": None}


def test_standstill_is_left_aside_but_alone_shows_nothing(shown) -> None:
    found = report(("hood_stop", "torque_off", TWO))
    assert shown(found, inputs(effects=["torque_off", "standstill"])) == {"hood_stop": TWO}
    assert shown(found, inputs(effects=["standstill"])) == {"hood_stop": None}


@pytest.mark.parametrize(
    ("claims", "most"), [({"a": "3"}, 1), ({"a": "B", "b": "1"}, 1), ({"a": "3", "b": "4"}, 2)]
)
def test_two_faults_are_searched_only_where_category_4_is_claimed(shown, claims, most) -> None:
    shown(report(), inputs(claims=claims))
    assert shown.asked == [most]


def test_where_all_claim_two_channels_a_single_fault_refuses_them(shown) -> None:
    found = report(("hood_stop", "torque_off", ONE))
    assert shown(found, inputs(claims={"a": "3", "b": "4"})) == {"hood_stop": ONE}


def test_where_one_claims_one_channel_it_may_be_why(shown) -> None:
    found = report(("hood_stop", "torque_off", ONE))
    assert shown(found, inputs(claims={"a": "3", "b": "1"})) == {
        "hood_stop": ONE,
        "hood_stop/a": None,
        "hood_stop/b": ONE,
    }


def losing(*faults: str, effect: str = "torque_off") -> FaultReport:
    """A chain of one channel only, because each of these single faults loses an effect."""
    lost = tuple(
        FaultResult(
            (one,),
            (one,),
            ("hood_stop",),
            (("hood_stop", effect),),
            (),
            False,
            None,
            (),
            False,
            True,
            (),
            True,
            (),
            "",
        )
        for one in faults
    )
    return replace(
        report(("hood_stop", "torque_off", ONE), ("hood_stop", "references_zero", TWO)), faults=lost
    )


def of(devices: Mapping[str, tuple[str, list[str]]], effects: list[str] | None = None) -> RatingInputs:
    """A rating by name, claimed category and devices of each subsystem."""
    section = inputs(claims={name: category for name, (category, _) in devices.items()}, effects=effects)
    for name, (_, named) in devices.items():
        section.functions["hood_stop"].subsystems[name].devices.extend(named)
    return section


SERIES = {"switch": ("3", ["hood"]), "logic": ("3", ["relay"]), "power": ("1", ["prime"])}


@pytest.mark.parametrize(
    ("faults", "switch", "logic"),
    [
        (["prime.sto_a_dead"], TWO, TWO),  # only the part that claims one channel has such a fault
        (["prime.sto_a_dead", "hood.does_not_follow"], ONE, TWO),
        (["prime.wire_sto_a_short_to_supply"], TWO, ONE),  # the wire from the relay is of the relay as well
        (["relay.wire_channel_a_short_to_supply"], ONE, ONE),  # and that from hood to relay of both
        (["some_cable.short_hood_a_hood_b"], None, None),  # of no device: nobody can tell whose it is
        (["brake.sto_a_dead"], None, None),  # of a device that no subsystem names
    ],
    ids=["power", "switch too", "wire behind the relay", "wire before the relay", "cable", "not rated"],
)
def test_beside_one_channel_each_is_judged_by_the_faults_of_its_own_devices(
    shown, faults, switch, logic
) -> None:
    """ISO 13849-1:2015, 6.3: subsystems in series, each with its own category."""
    assert shown(losing(*faults), of(SERIES)) == {
        "hood_stop": ONE,
        "hood_stop/switch": switch,
        "hood_stop/logic": logic,
        "hood_stop/power": ONE,
    }


def test_faults_that_lose_what_is_not_rated_do_not_count(shown) -> None:
    found = losing("hood.does_not_follow", effect="references_zero")
    assert shown(found, of(SERIES, effects=["torque_off"]))["hood_stop/switch"] == TWO
    assert shown(found, of(SERIES))["hood_stop/switch"] == ONE


def test_category_4_beside_one_channel_is_neither_refused_nor_passed(shown) -> None:
    found = shown(losing("prime.sto_a_dead"), of({**SERIES, "switch": ("4", ["hood"])}))
    assert found["hood_stop/switch"] is None
    assert found["hood_stop/logic"] == TWO


def test_a_chain_that_carries_two_channels_carries_them_in_every_subsystem(shown) -> None:
    found = report(("hood_stop", "torque_off", TWO))
    assert shown(found, inputs(claims={"a": "3", "b": "1"})) == {"hood_stop": TWO}


@given(st.lists(st.sampled_from([ALL, TWO, ONE, ("B", "1", "2"), ()]), min_size=2, max_size=2), st.booleans())
def test_nothing_is_shown_that_any_effect_lacks(carried, whole) -> None:
    rows = [("hood_stop", effect, kinds) for effect, kinds in zip(EFFECTS, carried, strict=True)]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(structure, "judge_faults", lambda _bench, _most: report(*rows, whole=whole))
        searched = structure.fault_report(BENCH, inputs())
        found = structure.shown_categories(searched, inputs(), BENCH)["hood_stop"]
    assert found is None or all(set(map(str, found)) <= set(kinds) for kinds in carried)
    assert found is None or whole


def test_exclusions_are_told_with_reason_and_source() -> None:
    told = structure.left_out(BENCH)
    assert len(told) == len(BENCH.exclusions)
    for text, one in zip(told, BENCH.exclusions, strict=True):
        assert one.reason in text
        assert one.source in text


def test_the_built_in_bench_claims_only_what_it_carries() -> None:
    section = rating_of(BENCH_FILE)
    carried = structure.shown_categories(structure.fault_report(BENCH, section), section, BENCH)
    assert set(carried) == {"hood_stop", "button_stop", "emergency_stop"}
    assert all(kinds is not None and "3" in kinds for kinds in carried.values())
