"""The rating section: what is read, and what is one clear error with its path."""

import math

import pytest
from rating_benches import COVER_STOP, EXAMPLE_A, EXAMPLE_B, changed, switch

from interlock.errors import RatingError
from interlock.rating.inputs import RatingInputs, read_rating
from interlock.rating.uncertainty import Range

PART = "parts__switch_1"
SUB = "functions__cover_stop__subsystems__input"


@pytest.mark.parametrize("section", [COVER_STOP, EXAMPLE_A, EXAMPLE_B])
def test_whole_sections_are_read(section) -> None:
    assert list(read_rating(section).functions) == list(section["functions"])


def test_numbers_become_ranges_with_their_better_end() -> None:
    inputs = read_rating(
        changed(COVER_STOP, **{f"{PART}__b10d": [1.5e6, 2e6], f"{PART}__operations": {"per_year": [5, 9]}})
    )
    part = inputs.parts["switch_1"]
    assert part.b10d == Range(1.5e6, 2e6, "more")
    assert part.operations is not None
    assert part.operations.per_year == Range(5, 9, "less")
    assert part.dc == Range(0.99, 0.99, "more")
    assert inputs.functions["cover_stop"].subsystems["logic"].pfhd_per_h == Range(4.9e-9, 4.9e-9, "less")


def test_categories_are_read_as_number_or_text() -> None:
    for given in (3, "3"):
        inputs = read_rating(changed(COVER_STOP, **{f"{SUB}__category": given}))
        assert inputs.functions["cover_stop"].subsystems["input"].category == "3"


def test_defaults() -> None:
    inputs = read_rating(COVER_STOP)
    assert inputs.mission_time_years == 20
    assert read_rating(EXAMPLE_A).parts["K1A"].dc is None


def test_required_level_given_or_by_the_graph() -> None:
    assert read_rating(COVER_STOP).functions["cover_stop"].required.level == "d"
    given = changed(COVER_STOP, functions__cover_stop__required={"pl": "c"})
    assert read_rating(given).functions["cover_stop"].required.level == "c"


GUARD = {"distance_mm": 400.0, "approach_speed_mm_s": 1600.0, "intrusion_mm": 0.0}
SIL = {"architecture": "D", "beta": 0.02, "proof_test_h": 8760.0, "diagnostic_test_h": 24.0}


@pytest.mark.parametrize(
    ("changes", "where", "says"),
    [
        ({"edition": 2006}, "rating.edition", "2015 or 2023"),
        ({"edition": None}, "rating.edition", "required"),
        ({"colour": "red"}, "rating.colour", "not permitted"),
        ({"functions": {}}, "rating.functions", "at least 1"),
        ({"mission_time_years": 0.0}, "rating.mission_time_years", "greater than 0"),
        (
            {"mission_time_years": 175_200.0},
            "rating.mission_time_years",
            "less than or equal to 100",
        ),  # hours
        ({f"{PART}__b10d": None}, "rating.parts.switch_1", "exactly one of b10d, mttfd_years"),
        ({f"{PART}__mttfd_years": 30.0}, "rating.parts.switch_1", "given: b10d, mttfd_years"),
        ({f"{PART}__b10d": 0.0}, "rating.parts.switch_1.b10d", "above 0"),
        ({f"{PART}__b10d": -2e6}, "rating.parts.switch_1.b10d", "above 0"),
        ({f"{PART}__b10d": math.nan}, "rating.parts.switch_1.b10d", "above 0"),
        ({f"{PART}__b10d": math.inf}, "rating.parts.switch_1.b10d", "above 0"),
        ({f"{PART}__b10d": "2e6"}, "rating.parts.switch_1.b10d", "not a number"),
        ({f"{PART}__b10d": True}, "rating.parts.switch_1.b10d", "not a number"),
        ({f"{PART}__b10d": [2e6, 1e6]}, "rating.parts.switch_1.b10d", "lower end first"),
        ({f"{PART}__b10d": [1e6]}, "rating.parts.switch_1.b10d", "pair"),
        ({f"{PART}__operations": None}, "rating.parts.switch_1", "needs operations"),
        ({f"{PART}__operations": {}}, "rating.parts.switch_1.operations", "give per_year, or all of"),
        (
            {f"{PART}__operations__cycle_time_s": None},
            "rating.parts.switch_1.operations",
            "give per_year, or all of",
        ),
        ({f"{PART}__operations__per_year": 5.0}, "rating.parts.switch_1.operations", "not both"),
        (
            {f"{PART}__operations__hours_per_day": 240.0},
            "rating.parts.switch_1.operations.hours_per_day",
            "24",
        ),
        ({f"{PART}__dc": 1.0}, "rating.parts.switch_1.dc", "from 0 to below 1"),
        ({f"{PART}__dc": 99.0}, "rating.parts.switch_1.dc", "99 % is 0.99"),
        ({f"{PART}__dc_measure": None}, "rating.parts.switch_1", "dc needs dc_measure"),
        ({f"{PART}__dc_measure": "magic"}, "rating.parts.switch_1", "give one of"),
        ({f"{PART}__dc_measure": "cyclic_test_stimulus"}, "rating.parts.switch_1", "earns at most 0.9"),
        ({f"{PART}__source": ""}, "rating.parts.switch_1.source", "at least 1"),
        ({f"{PART}__source": None}, "rating.parts.switch_1.source", "required"),
        (
            {f"{PART}__replaced_every_years": 0.0},
            "rating.parts.switch_1.replaced_every_years",
            "greater than 0",
        ),
        ({"parts__drive__mttfd_years": 262_800.0}, "rating.parts.drive.mttfd_years", "is it hours"),
        (
            {"parts__drive": {"source": "x", "typical": "relay"}},
            "rating.parts.drive",
            "give one of mechanical",
        ),
        (
            {f"{SUB}__category": 5},
            "rating.functions.cover_stop.subsystems.input.category",
            "one of B, 1, 2, 3, 4",
        ),
        (
            {f"{SUB}__category": None},
            "rating.functions.cover_stop.subsystems.input",
            "exactly one of category, pl",
        ),
        ({f"{SUB}__channels": None}, "rating.functions.cover_stop.subsystems.input", "go together"),
        ({f"{SUB}__channels": []}, "rating.functions.cover_stop.subsystems.input.channels", "at least 1"),
        (
            {f"{SUB}__channels": [["switch_1"]] * 3},
            "rating.functions.cover_stop.subsystems.input.channels",
            "at most 2",
        ),
        (
            {f"{SUB}__channels": [["switch_1"], ["switch_1"]]},
            "rating.functions.cover_stop.subsystems.input",
            "twice",
        ),
        ({f"{SUB}__channels": [["switch_1"], ["switch_3"]]}, "input.channels.1.0", "'switch_3' is no part"),
        ({f"{SUB}__ccf": ["separation", "luck"]}, "rating.functions.cover_stop.subsystems.input", "'luck'"),
        ({f"{SUB}__pfhd_per_h": 1e-8}, "rating.functions.cover_stop.subsystems.input", "leave it out"),
        (
            {f"{SUB}__series_guards": {"frequent": 0, "others": 2, "switches": ["drive"]}},
            "input.series_guards.switches.0",
            "'drive' is in no channel",
        ),
        (
            {f"{SUB}__series_guards": {"frequent": 0.5, "others": 2, "switches": ["switch_1"]}},
            "frequent",
            "integer",
        ),
        (
            {"functions__cover_stop__subsystems__logic__source": None},
            "rating.functions.cover_stop.subsystems.logic",
            "needs source",
        ),
        (
            {"functions__cover_stop__subsystems__logic__pl": "f"},
            "rating.functions.cover_stop.subsystems.logic.pl",
            "'a', 'b'",
        ),
        ({"functions__cover_stop__subsystems__logic__pfhd_per_h": 4.9}, "logic.pfhd_per_h", "at most 1e-4"),
        ({"functions__cover_stop__required": {}}, "rating.functions.cover_stop.required", "give pl, or all"),
        (
            {"functions__cover_stop__required": {"pl": "d", "severity": "S1"}},
            "rating.functions.cover_stop.required",
            "give pl, or all",
        ),
        (
            {"functions__cover_stop__required__severity": "S3"},
            "rating.functions.cover_stop.required.severity",
            "'S1' or 'S2'",
        ),
        (
            {"functions__cover_stop__required_sil": 2},
            "rating.functions.cover_stop",
            "missing in input, logic, output",
        ),
        ({"functions__cover_stop__required_sil": 4}, "rating.functions.cover_stop.required_sil", "1, 2 or 3"),
        (
            {"functions__cover_stop__guard": {**GUARD, "approach_speed_mm_s": 1.6}},
            "guard.approach_speed_mm_s",
            "1600",
        ),  # m/s
        (
            {"functions__cover_stop__guard": {**GUARD, "distance_mm": 0.0}},
            "guard.distance_mm",
            "greater than 0",
        ),
        (
            {"functions__cover_stop__guard": {**GUARD, "intrusion_mm": -1.0}},
            "guard.intrusion_mm",
            "greater than or equal",
        ),
        ({"functions__cover_stop__guard": {**GUARD, "unlock": "delay"}}, "guard", "unlock_delay_s goes with"),
        (
            {"functions__cover_stop__guard": {**GUARD, "unlock_delay_s": 3.0}},
            "guard",
            "unlock_delay_s goes with",
        ),
        ({f"{SUB}__iec62061": {**SIL, "sil": 2}}, "input.iec62061", "exactly one of architecture, sil"),
        (
            {f"{SUB}__iec62061": {"architecture": "D", "beta": 0.02}},
            "input.iec62061",
            "also needed: proof_test_h",
        ),
        ({f"{SUB}__iec62061": {"sil": 2}}, "input.iec62061", "also needed: pfh_per_h"),
        ({f"{SUB}__iec62061": {**SIL, "beta": 2.0}}, "input.iec62061.beta", "from 0 to below 1"),
    ],
)
def test_one_clear_error(changes, where, says) -> None:
    with pytest.raises(RatingError) as caught:
        read_rating(changed(COVER_STOP, **changes))
    matching = [line for line in str(caught.value).splitlines() if where in line and says in line]
    assert matching, str(caught.value)


def test_all_mistakes_at_once() -> None:
    with pytest.raises(RatingError) as caught:
        read_rating(
            changed(COVER_STOP, edition=1999, parts__switch_1__dc=2.0, parts__drive__mttfd_years=-3.0)
        )
    assert len(str(caught.value).splitlines()) == 3


def test_the_path_starts_where_the_caller_says() -> None:
    with pytest.raises(RatingError, match=r"^bench\.yaml: rating\.edition: "):
        read_rating(changed(COVER_STOP, edition=1999), where="bench.yaml: rating")


def test_a_typical_wearing_part_needs_operations_too() -> None:
    part = {"source": "Table C.1", "typical": "contactor_nominal_load"}
    with pytest.raises(RatingError, match="needs operations"):
        read_rating(changed(COVER_STOP, parts__contactor_1=part))
    assert read_rating(
        changed(COVER_STOP, parts__contactor_1={"source": "Table C.1", "typical": "mechanical"})
    )


def test_a_fault_exclusion_needs_its_reason() -> None:
    with pytest.raises(RatingError, match="fault_exclusion"):
        read_rating(changed(COVER_STOP, parts__switch_1={"source": "x", "fault_exclusion": ""}))


def test_inputs_do_not_change_afterwards() -> None:
    with pytest.raises(ValueError, match="frozen"):
        read_rating(COVER_STOP).edition = 2023  # type: ignore[misc]


def test_the_schema_of_the_section_can_be_published() -> None:
    schema = RatingInputs.model_json_schema()
    assert schema["additionalProperties"] is False
    assert set(schema["required"]) == {"edition", "functions"}


def test_reading_leaves_the_section_alone() -> None:
    section = changed(COVER_STOP, parts__switch_1=switch())
    before = repr(section)
    read_rating(section)
    assert repr(section) == before
