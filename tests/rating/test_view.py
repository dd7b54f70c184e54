"""The text view shows levels, reasons, steps and, always, the cautions."""

import pytest
from rating_benches import CCF_70, COVER_STOP, COVERED, EXAMPLE_A, PROVEN, changed, given_part

from interlock.rating.cautions import CAUTIONS
from interlock.rating.inputs import read_rating
from interlock.rating.rate import rate
from interlock.rating.view import as_text


def text_of(section, supported=PROVEN, **more) -> str:
    return as_text(rate(read_rating(section), supported_categories=supported, chain=COVERED), **more)


def test_levels_and_verdicts() -> None:
    text = text_of(COVER_STOP)
    assert text.startswith("Rating by ISO 13849-1:2015, mission time 20 years: pass\n")
    assert "cover_stop: pass" in text
    assert "required PL d, reached PL e (PFHd 9.07e-08 1/h)" in text
    assert "logic: PL e, as rated by its maker" in text
    assert "input: PL e, category 3, MTTFd 100 years, average coverage 99 %, PFHd 4.29e-08 1/h" in text


def test_every_step_is_numbered() -> None:
    text = text_of(COVER_STOP)
    result = rate(read_rating(COVER_STOP), supported_categories=PROVEN, chain=COVERED)
    for number, step in enumerate(result.functions[0].steps, 1):
        assert f"    {number}. {step}\n" in text


@pytest.mark.parametrize("steps", [True, False])
def test_cautions_are_never_left_out(steps) -> None:
    text = text_of(EXAMPLE_A, steps=steps)
    assert all(f"  - {caution}\n" in text for caution in CAUTIONS)
    assert ("  steps\n" in text) is steps


def test_a_refused_claim_says_why() -> None:
    text = text_of(COVER_STOP, {"cover_stop": ["B"]})
    assert "reached no level: a claim is refused" in text
    assert "input: category 3 refused: the structure as wired supports only category B" in text
    assert "[fail] performance level" in text


def test_an_unproven_structure_is_shown() -> None:
    text = text_of(COVER_STOP, None)
    assert "category 3, structure not shown" in text
    assert "[inconclusive] performance level" in text


def test_a_maker_without_figure() -> None:
    section = changed(COVER_STOP, functions__cover_stop__subsystems__logic={"pl": "e", "source": "relay"})
    assert "reached PL e (PFHd not known)" in text_of(section)


def test_ranges_show_both_ends_and_what_decides() -> None:
    parts = {"parts__contactor_1": given_part(20, 0.9), "parts__drive": given_part(20, 0.9)}
    section = changed(COVER_STOP, **parts)
    section["parts"]["drive"]["mttfd_years"] = [20.0, 100.0]
    section["parts"]["contactor_1"]["mttfd_years"] = [20.0, 100.0]
    text = text_of(section)
    assert "reached PL d" in text
    assert "; PL e at the optimistic end of the inputs" in text
    assert "contactor_1.mttfd_years: 20 -> 100 (range): PL d, failure rate divided by " in text
    assert "logic.pfhd_per_h: 4.9e-09 -> 4.41e-09 (10 % better): PL d" in text


def test_an_input_that_lifts_a_refusal() -> None:
    second = given_part(20, 0.6)
    second["dc"] = [0.55, 0.95]
    section = changed(
        COVER_STOP,
        parts__contactor_1=given_part(40, 0.6),
        parts__drive=second,
        functions__cover_stop__subsystems={
            "output": {"category": 3, "channels": [["contactor_1"], ["drive"]], "ccf": CCF_70}
        },
    )
    text = text_of(section)
    assert "input that matters most: drive.dc" in text
    assert "drive.dc: 0.55 -> 0.95 (range): PL d, lifts a refusal" in text


def test_an_input_that_changes_nothing_says_so_and_one_that_changes_little_says_by_how_much() -> None:
    lines = [line for line in text_of(COVER_STOP).splitlines() if " -> " in line]
    assert "    contactor_1.dc: 0.99 -> 0.991 (10 % better): PL e, no effect" in lines
    assert all(line.endswith("no effect") or "divided by" in line for line in lines)
    assert not any(line.endswith("divided by 1") for line in lines)


def test_same_result_same_text() -> None:
    assert text_of(COVER_STOP) == text_of(COVER_STOP)
