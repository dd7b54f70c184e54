"""Results are plain JSON with a schema; every caution is there."""

import jsonschema
import pytest

from interlock.rating.cautions import CAUTIONS
from interlock.rating.result import (
    FunctionRating,
    InputEffect,
    Judgement,
    RatingResult,
    SubsystemRating,
    json_schema,
)
from interlock.rating.step import Mark, Step
from interlock.verdict import Verdict

SUBSYSTEM = SubsystemRating(
    "input", "3", 100.0, 0.99, 70, "e", 4.29e-8, (), True, ("K1: see data sheet.",), True
)
FUNCTION = FunctionRating(
    "cover_stop",
    Verdict.PASS,
    "d",
    "e",
    "e",
    4.29e-8,
    4.29e-8,
    3,
    "K1.b10d",
    "input",
    (SUBSYSTEM,),
    (Judgement("performance level", Verdict.PASS, "6.3", "PL d required, PL e reached."),),
    (InputEffect("K1.b10d", 1e6, 2e6, True, None, None, None),),
    (
        Step(
            "K1: MTTFd",
            "B10d / (0.1 * nop)",
            (("B10d", 1e6), ("nop", 5.0)),
            "C.1",
            2e6,
            "years",
            Mark.COMPUTED,
        ),
    ),
    (),
)
RESULT = RatingResult(Verdict.PASS, 2015, 20.0, (FUNCTION,), CAUTIONS)


def test_json() -> None:
    plain = RESULT.as_json()
    jsonschema.validate(plain, json_schema())
    function = plain["functions"][0]
    assert plain["verdict"] == "pass"
    assert function["judgements"][0]["verdict"] == "pass"
    assert function["steps"][0]["numbers"] == [["B10d", 1e6], ["nop", 5.0]]
    assert function["steps"][0]["mark"] == "computed"
    assert function["effects"][0]["gain"] is None
    assert type(plain["verdict"]) is str


@pytest.mark.parametrize(
    "change",
    [
        {"verdict": "probably"},
        {"edition": "2015"},
        {"functions": [{}]},
        {"cautions": None},
    ],
)
def test_the_schema_refuses_what_is_not_a_result(change) -> None:
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate({**RESULT.as_json(), **change}, json_schema())


def test_results_are_frozen() -> None:
    with pytest.raises(AttributeError):
        RESULT.verdict = Verdict.FAIL


def test_a_verdict_in_a_result_is_compared_by_name() -> None:
    with pytest.raises(TypeError):
        bool(RESULT.verdict)


@pytest.mark.parametrize(
    "words",
    [
        "certificate",
        "risk assessment",
        "local law",
        "type-C standard",
        "competent person",
        "from memory",
        "Systematic",
        "rate again",
        "not isolation",
        "isolate, lock, wait",
    ],
)
def test_the_usual_cautions(words) -> None:
    assert any(words in caution for caution in CAUTIONS)


def test_tests_are_not_levels() -> None:
    assert any("passed tests is not a performance level" in caution for caution in CAUTIONS)
