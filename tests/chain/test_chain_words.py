"""Counterexamples as a person would tell them."""

import pytest
from chain_benches import EXPECTED, checked, wrong

from interlock.chain import PropertyResult
from interlock.chain.ir import EventKind
from interlock.chain.words import PERSON
from interlock.verdict import Verdict


def first(name: str) -> PropertyResult:
    return next(one for one in checked(name).properties if one.verdict is Verdict.FAIL)


def test_acts_are_told_by_name_and_consequence() -> None:
    acts = first("01_latch_not_sealed.yaml").acts
    assert [act.words for act in acts] == [
        "open the guard hood: channel a opens",
        "close the guard hood: channel a closes",
    ]
    assert acts[1].changes == (
        "contact multiplier: picked up",
        "pump motor: permitted but not started",
        "brake motor: permitted but not started",
    )


def test_a_late_reaction_is_told_as_that_of_its_device() -> None:
    acts = first("20_power_by_maintained_switch.yaml").acts
    assert [act.kind for act in acts] == [EventKind.ACT] * 3 + [EventKind.LATE]
    assert acts[-1].who == "line contactor"
    assert acts[-1].words == "a moment later: line contactor: closed"
    assert acts[0].who == PERSON


def test_the_state_of_every_device_is_told_after_each_act() -> None:
    bench = wrong("18_contactor_slower_than_the_hand.yaml")
    for act in first("18_contactor_slower_than_the_hand.yaml").acts:
        assert set(act.after) == set(bench.devices)


@pytest.mark.parametrize(
    ("name", "sentence"),
    [
        (
            "02_brake_sto_not_wired.yaml",
            "After these 2 steps the brake motor makes torque although the guard hood is open on channel a only.",
        ),
        (
            "03_one_sto_input_bridged.yaml",
            "After this step input sto_b of the brake motor still permits torque although the guard hood is open on "
            "channel a only.",
        ),
        (
            "18_contactor_slower_than_the_hand.yaml",
            "After these 5 steps the line contactor is closed although the power button was not pressed since the "
            "demand of the emergency-off button ended.",
        ),
        (
            "12_feedback_from_wrong_contact.yaml",
            "Right after power-up no acts bring the pump motor and the brake motor to make torque.",
        ),
        (
            "16_disagreement_not_watched.yaml",
            "After these 4 steps the pump motor and the brake motor may make torque although one channel of the guard "
            "hood never opened.",
        ),
    ],
)
def test_sentences(name: str, sentence: str) -> None:
    assert first(name).sentence == sentence


def test_a_reaction_that_is_only_too_slow_is_told_as_such() -> None:
    sentence = first("28_contactor_too_slow.yaml").sentence
    late = "the drop out of the line contactor (up to 250 ms)"
    assert f"by the data sheets may take too long: {late}; at most 150 ms are allowed" in sentence
    assert "data sheet" not in first("04_contactor_ignores_emergency_off.yaml").sentence


def test_a_pass_says_over_how_many_states() -> None:
    result = checked("03_one_sto_input_bridged.yaml")
    held = next(one for one in result.properties if one.verdict is Verdict.PASS)
    assert held.sentence == f"Holds in each of the {result.states} situations that the bench can get into."
    assert held.acts == ()


@pytest.mark.parametrize("name", sorted(EXPECTED))
def test_nothing_is_told_in_the_model_s_own_names(name: str) -> None:
    """No device id with its state id, no word of the model: an operator has never heard of them."""
    for one in checked(name).properties:
        texts = [one.sentence, one.title, one.requirement, *(act.words for act in one.acts)]
        for text in texts:
            assert not [
                word for word in ("observer", "latch of", "node", "transition", "k1", "q1") if word in text
            ]
