"""Every function of the fixed table refuses every odd number in every place, with one error."""

import inspect
import math

import pytest

from interlock.errors import RatingError
from interlock.rating import iec61508, iec62061, iso13849, iso13855
from interlock.timing import statistics

GOOD = {  # function: arguments that work, by the names that are fixed
    iso13849.operations_per_year: {"days_per_year": 240.0, "hours_per_day": 8.0, "cycle_time_s": 900.0},
    iso13849.mttfd_from_b10d: {"b10d": 1.3e6, "operations_per_year": 7680.0},
    iso13849.t10d: {"b10d": 1.3e6, "operations_per_year": 7680.0},
    iso13849.mttfd_symmetrised: {"channel_1": 30.0, "channel_2": 6.7},
    iso13849.dc_class: {"dc": 0.9},
    iso13849.performance_level: {"pfhd": 1e-7},
    iec62061.pfh_b: {"lambda_1": 1e-7, "lambda_2": 1e-7, "beta": 0.02, "proof_test_h": 8760.0},
    iec62061.pfh_d: {
        "lambda_1": 1e-7,
        "lambda_2": 1e-7,
        "dc_1": 0.9,
        "dc_2": 0.9,
        "beta": 0.02,
        "proof_test_h": 8760.0,
        "diagnostic_h": 24.0,
    },
    iso13855.minimum_distance: {"stop_time_s": 0.3, "approach_speed_mm_s": 1600.0, "intrusion_mm": 120.0},
    iso13855.allowed_stop_time: {"distance_mm": 400.0, "approach_speed_mm_s": 1600.0, "intrusion_mm": 120.0},
    statistics.tolerance_factor: {"n": 10, "proportion": 0.95, "confidence": 0.95},
    statistics.samples_needed: {"proportion": 0.95, "confidence": 0.95},
}
VOTING = {
    "lambda_du": 1e-6,
    "lambda_dd": 1e-6,
    "proof_test_h": 8760.0,
    "mttr_h": 8.0,
    "beta": 0.1,
    "beta_d": 0.05,
}
VOTED = {
    getattr(iec61508, name): name
    for name in (
        "pfd_1oo1",
        "pfd_1oo2",
        "pfd_2oo2",
        "pfd_2oo3",
        "pfh_1oo1",
        "pfh_1oo2",
        "pfh_2oo2",
        "pfh_2oo3",
    )
}
GOOD |= dict.fromkeys(VOTED, VOTING)

CASES = [(call, argument) for call, arguments in GOOD.items() for argument in arguments]


def named(case) -> str:
    return VOTED[case] if callable(case) and case in VOTED else getattr(case, "__name__", str(case))


@pytest.mark.parametrize("call", GOOD, ids=named)
def test_the_good_arguments_work_by_name_and_by_place(call) -> None:
    assert call(**GOOD[call]) == call(*GOOD[call].values())


@pytest.mark.parametrize("call", GOOD, ids=named)
def test_names_and_order_are_as_fixed(call) -> None:
    fixed = [p.name for p in inspect.signature(call).parameters.values() if p.kind is not p.KEYWORD_ONLY]
    assert fixed == list(GOOD[call])


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf, -1.0, None, "1", True, [1.0]], ids=repr)
@pytest.mark.parametrize(("call", "argument"), CASES, ids=named)
def test_no_odd_number_anywhere(call, argument, bad) -> None:
    with pytest.raises(RatingError) as caught:
        call(**{**GOOD[call], argument: bad})
    assert len(str(caught.value)) > 20  # says what, and what is needed


ZERO_ALLOWED = {"intrusion_mm", "lambda_dd", "mttr_h", "beta", "beta_d", "dc", "dc_1", "dc_2"}


@pytest.mark.parametrize(("call", "argument"), CASES, ids=named)
def test_zero_only_where_it_means_something(call, argument) -> None:
    arguments = {**GOOD[call], argument: 0}
    if argument in ZERO_ALLOWED:
        call(**arguments)
    else:
        with pytest.raises(RatingError):
            call(**arguments)


@pytest.mark.parametrize(
    ("call", "names"),
    [
        (iso13849.mttfd_series, ["mttfds"]),
        (iso13849.dc_average, ["parts"]),
        (iso13849.pfhd, ["category", "mttfd", "dc_class"]),
        (iso13849.combine, ["subsystems"]),
        (iso13849.required_pl, ["severity", "frequency", "avoidance"]),
        (iec62061.pfh_a, ["lambdas"]),
        (iec62061.pfh_c, ["parts"]),
        (statistics.upper_tolerance_bound, ["values", "proportion", "confidence"]),
    ],
    ids=named,
)
def test_names_of_the_others(call, names) -> None:
    assert [parameter.name for parameter in inspect.signature(call).parameters.values()] == names


def test_everything_listed_exists() -> None:
    for module in (iso13849, iec62061, iec61508, iso13855, statistics):
        for name in module.__all__:
            assert getattr(module, name) is not None
