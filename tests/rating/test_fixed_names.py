"""The names and arguments that others rely on, and values on the side that the standard says."""

import inspect
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.errors import RatingError
from interlock.rating import iec61508, iec62061, iso13849, iso13855
from interlock.rating.iso13849_table import COLUMNS
from interlock.timing import statistics

VOTED = "lambda_du lambda_dd proof_test_h mttr_h beta beta_d"
FIXED = {
    iso13849: {
        "operations_per_year": "days_per_year hours_per_day cycle_time_s",
        "mttfd_from_b10d": "b10d operations_per_year",
        "t10d": "b10d operations_per_year",
        "mttfd_series": "mttfds",
        "mttfd_symmetrised": "channel_1 channel_2",
        "dc_average": "parts",
        "dc_class": "dc",
        "pfhd": "category mttfd dc_class",
        "performance_level": "pfhd",
        "combine": "subsystems",
        "required_pl": "severity frequency avoidance",
    },
    iec62061: {
        "pfh_a": "lambdas",
        "pfh_b": "lambda_1 lambda_2 beta proof_test_h",
        "pfh_c": "parts",
        "pfh_d": "lambda_1 lambda_2 dc_1 dc_2 beta proof_test_h diagnostic_h",
    },
    iec61508: dict.fromkeys(
        ["pfd_1oo1", "pfd_1oo2", "pfd_2oo2", "pfd_2oo3", "pfh_1oo1", "pfh_1oo2", "pfh_2oo2", "pfh_2oo3"],
        VOTED,
    ),
    iso13855: {
        "minimum_distance": "stop_time_s approach_speed_mm_s intrusion_mm",
        "allowed_stop_time": "distance_mm approach_speed_mm_s intrusion_mm",
    },
    statistics: {
        "tolerance_factor": "n proportion confidence",
        "samples_needed": "proportion confidence",
        "upper_tolerance_bound": "values proportion confidence",
    },
}
TABLE = [(module, name, words) for module, names in FIXED.items() for name, words in names.items()]


@pytest.mark.parametrize(("module", "name", "words"), TABLE, ids=[name for _, name, _ in TABLE])
def test_the_arguments_are_exactly_these(module, name, words) -> None:
    """In this order, each by keyword too; more only with a default and only by keyword."""
    given_ = inspect.signature(getattr(module, name)).parameters.values()
    own = [one for one in given_ if one.kind is one.POSITIONAL_OR_KEYWORD]
    assert [one.name for one in own] == words.split()
    assert all(one.default is not one.empty for one in given_ if one.kind is one.KEYWORD_ONLY)
    defaults = {one.name: one.default for one in own if one.default is not one.empty}
    assert defaults == ({"beta": 0, "beta_d": 0} if words == VOTED else {})


def below(border: float) -> float:
    return math.nextafter(border, 0)


@pytest.mark.parametrize(
    ("border", "at", "under"), [(1e-7, "d", "e"), (1e-6, "c", "d"), (3e-6, "b", "c"), (1e-5, "a", "b")]
)
def test_a_border_of_pfhd_belongs_to_the_worse_level(border, at, under) -> None:
    """ISO 13849-1:2015, Table 3: from (≥) to below (<)."""
    assert iso13849.performance_level(pfhd=border) == at
    assert iso13849.performance_level(pfhd=below(border)) == under


@pytest.mark.parametrize(
    ("border", "at", "under"), [(0.60, "low", "none"), (0.90, "medium", "low"), (0.99, "high", "medium")]
)
def test_a_border_of_coverage_belongs_to_the_better_class(border, at, under) -> None:
    """ISO 13849-1:2015, Table 6."""
    assert iso13849.dc_class(dc=border) == at
    assert iso13849.dc_class(dc=below(border)) == under


@pytest.mark.parametrize("years", [10, 15, 30, 100])
@pytest.mark.parametrize("count", [1, 2, 3, 7, 10])
def test_equal_parts_meet_a_border_exactly(years, count) -> None:
    """n parts of n · M years are a channel of M years; no binary dust may move it below its class or row."""
    series = iso13849.mttfd_series(mttfds=[years * count] * count)
    assert series == years
    assert iso13849.mttfd_symmetrised(channel_1=series, channel_2=series) == years


@pytest.mark.parametrize("dc", [0.6, 0.9, 0.99])
@given(lives=st.lists(st.floats(3, 2500), min_size=1, max_size=6))
def test_equal_coverage_stays_what_it_is_whatever_the_lives(dc, lives) -> None:
    assert iso13849.dc_average(parts=[(dc, years) for years in lives]) == dc


CELLS = [(category, dc, cell) for (category, dc), cells in COLUMNS.items() for cell in cells]


@pytest.mark.parametrize(("category", "dc", "cell"), CELLS, ids=lambda one: getattr(one, "mttfd", one))
def test_each_row_is_read_from_its_own_years_on_and_not_before(category, dc, cell) -> None:
    """Table K.1; both editions have the same values (2023 from memory). Never optimistic between two rows."""
    assert iso13849.pfhd(category=category, mttfd=cell.mttfd, dc_class=dc) == cell.pfhd
    if cell.mttfd == COLUMNS[category, dc][0].mttfd:
        with pytest.raises(RatingError):
            iso13849.pfhd(category=category, mttfd=below(cell.mttfd), dc_class=dc)
    else:
        assert iso13849.pfhd(category=category, mttfd=below(cell.mttfd), dc_class=dc) > cell.pfhd


@pytest.mark.parametrize("category", [1, "1", 2, "2", 3, "3", 4, "4", "B", "b"])
def test_a_category_may_be_a_number_or_a_letter(category) -> None:
    dc = {"1": "none", "B": "none", "4": "high"}.get(str(category).upper(), "low")
    same = iso13849.pfhd(category=str(category).upper(), mttfd=35, dc_class=dc)
    assert iso13849.pfhd(category=category, mttfd=35, dc_class=dc) == same


@given(st.floats(3, 3000), st.floats(3, 3000), st.sampled_from(sorted(COLUMNS)))
def test_a_longer_life_never_reads_a_worse_cell(first, second, column) -> None:
    category, dc = column
    short, long = sorted((first, second))
    try:
        worse = iso13849.pfhd(category=category, mttfd=short, dc_class=dc)
    except RatingError:
        return
    assert iso13849.pfhd(category=category, mttfd=long, dc_class=dc) <= worse


@given(st.floats(30, 3000), st.sampled_from(sorted(COLUMNS)))
def test_no_category_but_4_gains_above_its_cap(years, column) -> None:
    category, dc = column
    cap = 2500 if category == "4" else 100
    found = iso13849.pfhd(category=category, mttfd=years, dc_class=dc)
    assert found >= iso13849.pfhd(category=category, mttfd=cap, dc_class=dc)


@pytest.mark.parametrize(
    ("subsystems", "level"),
    [
        ([("d", 9.9e-7), ("e", 1e-8)], "c"),  # 1e-6 exactly, as written: c by the half-open band
        ([("d", 9.89e-7), ("e", 1e-8)], "d"),
        ([("e", 9e-8), ("e", 1e-8)], "d"),  # 1e-7 exactly
        ([("c", 2e-6), ("c", 1e-6)], "b"),  # 3e-6 exactly
        ([("d", 1e-9)], "d"),  # never above the lowest level
    ],
)
def test_sums_at_a_border(subsystems, level) -> None:
    assert iso13849.combine(subsystems=subsystems).pl == level


@pytest.mark.parametrize("n", [2, 3, 4, 9, 10, 31, 100, 300, 1000])
@pytest.mark.parametrize(
    ("proportion", "confidence"), [(0.9, 0.95), (0.95, 0.95), (0.99, 0.95), (0.99, 0.99)]
)
def test_more_values_never_need_a_larger_factor(n, proportion, confidence) -> None:
    k = statistics.tolerance_factor(n=n, proportion=proportion, confidence=confidence)
    more = statistics.tolerance_factor(n=n + 1, proportion=proportion, confidence=confidence)
    assert more < k


@pytest.mark.parametrize(
    ("proportion", "confidence", "n"),
    [(0.90, 0.95, 29), (0.95, 0.95, 59), (0.99, 0.95, 299), (0.5, 0.5, 1), (0.5, 0.75, 2), (0.1, 0.99, 2)],
)
def test_exact_counts_of_values(proportion, confidence, n) -> None:
    """1 - 0.5^2 is 0.75 exactly and 1 - 0.1^2 is 0.99: no logarithm may round these up (computed by hand)."""
    assert statistics.samples_needed(proportion=proportion, confidence=confidence) == n


@given(st.floats(0.001, 100), st.floats(1, 5000), st.floats(0, 2000))
def test_distance_and_time_are_each_others_reverse(stop, speed, intrusion) -> None:
    distance = iso13855.minimum_distance(stop_time_s=stop, approach_speed_mm_s=speed, intrusion_mm=intrusion)
    back = iso13855.allowed_stop_time(distance_mm=distance, approach_speed_mm_s=speed, intrusion_mm=intrusion)
    assert back == pytest.approx(stop, rel=1e-6)


@given(st.lists(st.floats(1e-12, 1e-6), min_size=1, max_size=6))
def test_architectures_without_coverage_agree(lambdas) -> None:
    """C with no coverage is A (IEC 62061, 6.7.8.2)."""
    assert iec62061.pfh_c(parts=[(one, 0.0) for one in lambdas]) == pytest.approx(
        iec62061.pfh_a(lambdas=lambdas)
    )
