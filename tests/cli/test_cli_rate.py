"""`interlock rate`: text, JSON by its schema, PDF; each bad input is one clear error or one refused claim."""

import json
import re
import shutil
from pathlib import Path

import jsonschema
import pytest

DEMO = "interlock/demo/bench.yaml"
SAMPLE = "tests/benches/sample/bench.yaml"
TIME = "2026-03-04T05:06:07Z"
DAY = ("--today", "2026-03-04")

SECTION = """
rating:
  edition: 2015
  parts:
    cover_a: {source: data sheet, b10d: 2000000, operations: {per_year: 5000}, dc: 0.99, dc_source: analysis}
    cover_b: {source: data sheet, mttfd_years: 80, dc: 0.99, dc_source: analysis}
  functions:
    cover_stop:
      required: {pl: c}
      proof_test_months: 12
      subsystems:
        input:
          category: 4
          channels: [[cover_a], [cover_b]]
          ccf: [separation, overload_protection, well_tried_components, contamination_and_emc, other_influences]
  discharge:
    source: data sheet
    highest_supply_v: 100
    capacitance_f: 0.004
    bleeder_ohm: 500
    units: {load: {emf_v_s_per_rad: 0.2, source: data sheet}}
"""


@pytest.fixture
def bench(root: Path, tmp_path: Path):
    """Writes the sample bench with a rating section of its own, and gives its path."""

    def write(section: str) -> Path:
        folder = root / "tests/benches/sample"
        shutil.copyfile(folder / "bench.dbc", tmp_path / "bench.dbc")
        text = (folder / "bench.yaml").read_text(encoding="utf-8").split("\nrating:")[0]
        path = tmp_path / "bench.yaml"
        path.write_text(text + "\n" + section, encoding="utf-8")
        return path

    return write


# views


def test_the_section_of_the_tests_is_sound_and_only_its_structure_is_refused(interlock, bench):
    """The cover's switch may come off its actuator, and no exclusion says why not: one fault loses category 4."""
    said = interlock("rate", bench(SECTION), "--json", *DAY)
    assert said.code == 1, said
    (function,) = json.loads(said.out)["functions"]
    (subsystem,) = function["subsystems"]
    (refused,) = subsystem["refused_because"]
    assert "the structure as wired supports only category B or 1" in refused
    assert (subsystem["mttfd_years"] > 30, subsystem["dc_average"] >= 0.99) == (True, True)


@pytest.mark.parametrize("path", [DEMO, SAMPLE])
def test_json_is_as_its_published_schema_says(interlock, root, path):
    schema = json.loads(interlock("rate", "--schema").out)
    jsonschema.Draft202012Validator.check_schema(schema)
    document = json.loads(interlock("rate", root / path, "--json", *DAY).out)
    jsonschema.validate(document, schema)
    for key in ("schema", "bench", "stop_times", "functions", "cautions"):
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate({name: value for name, value in document.items() if name != key}, schema)


@pytest.mark.parametrize("more", [(), ("--short",)])
def test_text_always_ends_with_cautions_and_deferral(interlock, root, more):
    said = interlock("rate", root / DEMO, *more, *DAY)
    assert "A competent person checks inputs and result" in said.out
    assert "A number of passed tests is not a performance level" in said.out
    assert "local codes and licensed practice come first" in re.sub(r"\s+", " ", said.out)
    assert ("  steps\n" in said.out) is (not more)


def test_each_part_of_the_demo_is_judged(interlock, root):
    found = json.loads(interlock("rate", root / DEMO, "--json", *DAY).out)
    assert [one["name"] for one in found["others"]] == [
        "low demand of emergency_stop",
        "discharge of the DC bus",
        "wear and replacement",
    ]
    assert {one["verdict"] for one in found["others"]} == {"pass"}


def test_parts_without_any_data_do_not_reach_the_level(interlock, root):
    """10 years are assumed where nothing is known (ISO 13849-1:2015, 4.5.2): the sample's drives reach PL a alone.

    Its cover's switch may come off its guard, which nobody excludes: the claim of two channels is refused as well.
    """
    said = interlock("rate", root / SAMPLE, "--short", *DAY)
    assert said.code == 1
    assert "drives: PL a, category B" in said.out
    assert (
        "PL c required, no level reached (input: the structure as wired supports only category B or 1"
        in said.out
    )


def test_a_log_gives_the_stop_reckoned_up_to_top_speed(interlock, root, demo_log):
    found = json.loads(interlock("rate", root / DEMO, "--trace", demo_log, "--json", *DAY).out)
    assert set(found["stop_times"]) == {"hood_stop", "button_stop", "emergency_stop"}
    about = {one["about"]: one for one in found["functions"][0]["judgements"]}
    assert about["unlock delay"]["verdict"] == "pass"
    # about 4 s from 2400 1/min by the facts of the simulated bench; in proportion 5 s from 3000 1/min
    assert 5.0 < found["stop_times"]["hood_stop"]["upper_s"] < 5.6


def test_a_delay_that_nobody_timed_is_not_observed(interlock, root, demo_log, tmp_path):
    """The demo's bench without the times of its bolt: the stated 6 s are more than the stop, and show nothing."""
    text = (root / DEMO).read_text(encoding="utf-8")
    begin, end = text.index("        unlock_timed:"), text.index("      subsystems:")
    bench = tmp_path / "bench.yaml"
    bench.write_text(text[:begin] + text[end:], encoding="utf-8")
    shutil.copy((root / DEMO).with_name("bench.dbc"), tmp_path)
    said = interlock("rate", bench, "--trace", demo_log, "--json", *DAY)
    found = json.loads(said.out)
    about = {one["about"]: one for one in found["functions"][0]["judgements"]}
    assert (said.code, found["verdict"], about["unlock delay"]["verdict"]) == (
        3,
        "not_observed",
        "not_observed",
    )
    assert "write the times under unlock_timed" in about["unlock delay"]["sentence"]


def test_times_taken_so_long_ago_no_longer_count(interlock, root, demo_log):
    said = interlock("rate", root / DEMO, "--trace", demo_log, "--short", "--today", "2045-10-31")
    assert said.code == 1  # the contactor is due as well
    assert "counts for 7300: time it anew" in said.out


def test_without_a_log_nothing_is_said_of_the_guard(interlock, root):
    found = json.loads(interlock("rate", root / DEMO, "--json", *DAY).out)
    about = {one["about"]: one for one in found["functions"][0]["judgements"]}
    assert about["guard distance"]["verdict"] == "not_observed"


# wear and days


def test_a_part_is_due_once_its_day_has_come(interlock, root):
    said = interlock("rate", root / DEMO, "--short", "--today", "2044-02-25")
    assert said.code == 1
    assert "that day has come (2044-02-25): replace it" in said.out


def test_a_day_before_the_count_is_no_pass(interlock, root):
    found = json.loads(interlock("rate", root / DEMO, "--json", "--today", "2025-06-01").out)
    assert found["others"][-1]["verdict"] == "inconclusive"


@pytest.mark.parametrize("day", ["31.01.2026", "20260131", "2026-W05-6", "2026-02-30", "２０２６-01-31"])
def test_what_is_no_day_is_bad_usage(interlock, root, day):
    """Other forms of ISO 8601 too: a week would be read as another day than meant without a word."""
    said = interlock("rate", root / DEMO, "--today", day)
    assert (said.code, "2026-01-31" in said.err) == (2, True)


# the PDF


def test_the_pdf_is_the_same_to_the_byte_and_takes_a_signature(interlock, root, tmp_path):
    one, other = tmp_path / "one.pdf", tmp_path / "other.pdf"
    for out in (one, other):
        said = interlock("rate", root / DEMO, "--out", out, "--made-at", TIME, "--demo", "--short")
        assert said.code == 3  # no log: nothing is known of the guard
        assert "written; sign it" in said.out
    assert one.read_bytes() == other.read_bytes()
    assert interlock("sign", one, "--role", "tester", "--demo-key", "T").code == 0
    assert interlock("verify", one).code == 0


@pytest.mark.parametrize("args", [("--made-at", TIME), ("--demo",)])
def test_options_of_the_pdf_need_a_pdf(interlock, root, args):
    said = interlock("rate", root / DEMO, *args)
    assert (said.code, "--out" in said.err) == (2, True)


def test_a_mistake_writes_no_pdf(interlock, bench, tmp_path):
    out = tmp_path / "r.pdf"
    assert interlock("rate", bench(SECTION.replace("2000000", "-1")), "--out", out).code == 2
    assert not out.exists()


# bad input: issue 6, section "Bad input"

LOW_DEMAND = """  low_demand:
    cover_stop:
      required_sil: 1
      demands_per_year: 1
      elements:
        all: {devices: [cover], architecture: 1oo1, lambda_du_per_h: 1.0e-7, proof_test_h: 8760,
              proof_test_coverage: 0.9, lifetime_h: 87600, mttr_h: 8, source: data sheet}
"""

WRONG = {  # name: what stands in the section, what is written instead, part of the message
    "negative life": ("b10d: 2000000", "b10d: -2000000", "above 0"),
    "no life": ("b10d: 2000000", "b10d: 0", "above 0"),
    "life is not a number": ("b10d: 2000000", "b10d: .nan", "number"),
    "life without end": ("b10d: 2000000", "b10d: .inf", "number"),
    "life as a text": ("b10d: 2000000", 'b10d: "2e6"', "write 2.0e+6, without quotes"),
    "exponent without its sign": ("b10d: 2000000", "b10d: 2.0e6", "write 2.0e+6, without quotes"),
    "one of two without its sign": ("b10d: 2000000", "b10d: [1.0e6, 2.0e+6]", "write 1.0e+6"),
    "months as a text": ("proof_test_months: 12", 'proof_test_months: "12"', "write 12, without quotes"),
    "a unit beside the number": ("highest_supply_v: 100", "highest_supply_v: 100 V", "without unit"),
    "range the wrong way round": ("b10d: 2000000", "b10d: [3000000, 2000000]", "lower end first"),
    "range of three": ("b10d: 2000000", "b10d: [1, 2, 3]", "pair"),
    "negative use": ("per_year: 5000", "per_year: -5000", "above 0"),
    "no use": ("per_year: 5000", "per_year: 0", "above 0"),
    "negative years": ("mttfd_years: 80", "mttfd_years: -80", "above 0"),
    "hours for years": ("mttfd_years: 80", "mttfd_years: 700800", "one year has 8760"),
    "coverage of 100 %": (
        "dc: 0.99, dc_source: analysis}\n    cover_b",
        "dc: 1.0, dc_source: analysis}\n    cover_b",
        "below 1",
    ),
    "coverage in percent": (
        "dc: 0.99, dc_source: analysis}\n    cover_b",
        "dc: 99, dc_source: analysis}\n    cover_b",
        "99 % is 0.99",
    ),
    "negative coverage": (
        "dc: 0.99, dc_source: analysis}\n    cover_b",
        "dc: -0.1, dc_source: analysis}\n    cover_b",
        "0.1",
    ),
    "coverage from nowhere": (
        "dc: 0.99, dc_source: analysis}\n    cover_b",
        "dc: 0.99}\n    cover_b",
        "dc_measure",
    ),
    "missing B10d": ("b10d: 2000000, ", "", "give exactly one of b10d"),
    "missing use": ("operations: {per_year: 5000}, ", "", "how often it switches a year"),
    "missing source": ("{source: data sheet, b10d", "{b10d", "is missing and must be given"),
    "unknown key": ("mttfd_years: 80", "mttf_years: 80", "no such entry here"),
    "unknown part": ("[cover_b]]", "[cover_c]]", "describe it under parts"),
    "the same part twice": ("[cover_b]]", "[cover_a]]", "one part cannot stand in two places"),
    "unknown category": ("category: 4", "category: 5", "5"),
    "unknown level": ("pl: c", "pl: f", "'e'"),
    "unknown edition": ("edition: 2015", "edition: 2006", "2023"),
    "unknown measure": ("ccf: [separation,", "ccf: [prayer,", "prayer"),
    "mission of a century and more": (
        "edition: 2015",
        "edition: 2015\n  mission_time_years: 175200",
        "100 or less",
    ),
    "test interval of nothing": ("proof_test_months: 12", "proof_test_months: 0", "above 0"),
    "negative capacitance": ("capacitance_f: 0.004", "capacitance_f: -0.004", "above 0"),
    "no bleeder": ("    bleeder_ohm: 500\n", "", "go together"),
    "endless supply": ("highest_supply_v: 100", "highest_supply_v: .inf", "finite"),
    "negative back-EMF": ("emf_v_s_per_rad: 0.2", "emf_v_s_per_rad: -0.2", "0 or more"),
}


def at(text: str, part: str) -> int:
    """The first line, from 1, on which `part` begins."""
    return text[: text.index(part)].count("\n") + 1


@pytest.mark.parametrize("name", WRONG)
def test_a_mistake_is_one_error_that_says_where(interlock, bench, name):
    old, new, says = WRONG[name]
    assert old in SECTION
    path = bench(SECTION.replace(old, new, 1))
    said = interlock("rate", path, "--json", *DAY)
    assert said.code == 2, said
    (problem,) = json.loads(said.out)["problems"]
    assert problem["file"] == str(path)
    assert says in f"{problem['what']} {problem['why']} {problem['instead']}"
    assert at(path.read_text(), "\nrating:") < problem["line"] <= len(path.read_text().splitlines())
    assert problem["column"] >= 1
    assert f"{path}:{problem['line']}:{problem['column']}: " in said.err


@pytest.mark.parametrize(
    ("old", "new", "line_of"),
    [
        ("mttfd_years: 80", "mttfd_years: -80", "mttfd_years: -80"),
        ("per_year: 5000", "per_year: .nan", "per_year: .nan"),
        ("bleeder_ohm: 500", "bleeder_ohm: 0", "bleeder_ohm: 0"),
        ("edition: 2015", "edition: 1999", "edition: 1999"),
        ("category: 4", "category: 7", "category: 7"),
        ("[cover_b]]", "[cover_c]]", ": cover_c]]"),
        ("category: 4", "devices: [hod]\n          category: 4", ": hod]"),
        ("required: {pl: c}", "required: {pl: c}\n      effects: [torque_of]", ": torque_of]"),
    ],
)
def test_the_place_is_that_of_the_number(interlock, bench, old, new, line_of):
    path = bench(SECTION.replace(old, new, 1))
    said = interlock("rate", path, "--json", *DAY)
    (problem,) = json.loads(said.out)["problems"]
    text = path.read_text()
    assert problem["line"] == at(text, line_of.removeprefix(": "))
    shown = text.splitlines()[problem["line"] - 1][problem["column"] - 1 :]
    assert shown.startswith(line_of.split(": ")[1])


NOT_RATED = "required: {pl: c}\n      not_rated: {relay: some reason}"


def test_a_chain_that_nothing_rated_names_is_refused_with_the_place(interlock, bench):
    """The section names no device at all: from the cover to the drives nothing is rated."""
    path = bench(SECTION.replace("category: 4", "category: 3"))
    (function,) = json.loads(interlock("rate", path, "--json", *DAY).out)["functions"]
    (level,) = (one for one in function["judgements"] if one["about"] == "performance level")
    text = path.read_text()
    line = at(text[text.index("\nrating:") :], "subsystems:") + at(text, "\nrating:") - 1
    assert (
        "chamber cover (cover), safety relay (relay), drive unit (drive), load unit (load)"
        in level["sentence"]
    )
    assert f"(bench.yaml:{line}:7)" in level["sentence"]


def test_a_device_on_the_only_way_cannot_be_left_out(interlock, bench):
    path = bench(SECTION.replace("required: {pl: c}", NOT_RATED).replace("category: 4", "category: 3"))
    (function,) = json.loads(interlock("rate", path, "--json", *DAY).out)["functions"]
    assert "they cannot be left out, rate them" in function["judgements"][0]["sentence"]


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("required: {pl: c}", NOT_RATED.replace("relay", "rely"), "the bench has no such device"),
        ("category: 4", "devices: [covr]\n          category: 4", "the bench has no such device"),
    ],
)
def test_devices_must_be_those_of_the_bench(interlock, bench, old, new, says):
    (problem,) = json.loads(interlock("rate", bench(SECTION.replace(old, new)), "--json").out)["problems"]
    assert says in problem["why"]
    assert "contactor" in problem["instead"]  # the names that there are


def test_a_device_is_rated_or_left_out_not_both(interlock, bench):
    section = SECTION.replace("required: {pl: c}", NOT_RATED)
    section = section.replace("category: 4", "devices: [relay]\n          category: 4")
    (problem,) = json.loads(interlock("rate", bench(section), "--json").out)["problems"]
    assert "named under not_rated as well" in problem["why"]


def test_every_use_of_an_unknown_part_is_told(interlock, bench):
    section = SECTION.replace("[[cover_a], [cover_b]]", "[[cover_x], [cover_y]]")
    problems = json.loads(interlock("rate", bench(section), "--json").out)["problems"]
    assert [one["why"] for one in problems] == [
        "'cover_x' is no part: describe it under parts",
        "'cover_y' is no part: describe it under parts",
    ]
    assert problems[0]["column"] < problems[1]["column"]


def test_several_mistakes_are_all_told_at_once(interlock, bench):
    section = SECTION.replace("edition: 2015", "edition: 1999").replace("pl: c", "pl: z")
    said = interlock("rate", bench(section), "--json", *DAY)
    assert [one["what"] for one in json.loads(said.out)["problems"]] == ["'edition'", "'pl'"]


REFUSED = {  # name: old, new, reason
    "category 4 with low coverage": (
        "dc: 0.99, dc_source: analysis}\n    cover_b: {source: data sheet, mttfd_years: 80, dc: 0.99",
        "dc: 0.7, dc_source: analysis}\n    cover_b: {source: data sheet, mttfd_years: 80, dc: 0.7",
        "average coverage 70 %",
    ),
    "category 4 with short-lived parts": (
        "b10d: 2000000, operations: {per_year: 5000}, dc: 0.99, dc_source: analysis}\n"
        "    cover_b: {source: data sheet, mttfd_years: 80",
        "mttfd_years: 9, dc: 0.99, dc_source: analysis}\n    cover_b: {source: data sheet, mttfd_years: 9",
        "30 years or more",
    ),
    "category 4 with one channel": (
        "[[cover_a], [cover_b]]",
        "[[cover_a, cover_b]]",
        "2 channel(s), 1 given",
    ),
    "category 4 without measures": ("ccf: [separation, ", "ccf: [", "65 points"),
    "category 2 without a test": (
        "category: 4\n          channels: [[cover_a], [cover_b]]",
        "category: 2\n          channels: [[cover_a, cover_b]]",
        "needs a test",
    ),
}


@pytest.mark.parametrize("name", REFUSED)
def test_a_claim_that_does_not_hold_is_refused_with_the_reason(interlock, bench, name):
    old, new, reason = REFUSED[name]
    assert old in SECTION
    said = interlock("rate", bench(SECTION.replace(old, new, 1)), "--json", *DAY)
    assert said.code == 1, said
    (function,) = json.loads(said.out)["functions"]
    assert function["pl"] is None
    assert function["sil"] is None
    (refused,) = (one["refused_because"] for one in function["subsystems"])
    assert any(reason in text for text in refused)


def test_a_mission_beyond_t10d_is_refused(interlock, bench):
    """B10d / nop = 2e6 / 5e5 = 4 years, ISO 13849-1:2015, C.4.2; 20 years are planned."""
    said = interlock("rate", bench(SECTION.replace("per_year: 5000", "per_year: 500000")), "--short", *DAY)
    assert said.code == 1
    assert "its T10d is 4 years; the claim is refused: plan its replacement" in said.out


def test_a_bench_without_the_section_gets_no_level(interlock, bench):
    said = interlock("rate", bench(""), "--json")
    assert said.code == 2
    assert "no section 'rating'" in json.loads(said.out)["message"]


def test_rate_needs_a_bench(interlock):
    said = interlock("rate")
    assert (said.code, "--schema" in said.err) == (2, True)


def test_low_demand_of_half_a_chain_is_refused(interlock, bench):
    section = SECTION.replace("category: 4", "category: 3") + LOW_DEMAND
    said = interlock("rate", bench(section), "--json", *DAY)
    found = next(one for one in json.loads(said.out)["others"] if one["name"].startswith("low demand"))
    (judged,) = found["judgements"]
    assert judged["verdict"] == "fail"
    assert "safety relay (relay), drive unit (drive), load unit (load)" in judged["sentence"]


@pytest.mark.parametrize(
    ("fault", "says"),
    [("cover.a_stays_clsed", "no such fault is considered"), ("relay.cross_short", "name faults of cover")],
)
def test_shares_of_faults_that_do_not_exist_are_an_error(interlock, bench, fault, says):
    section = SECTION + LOW_DEMAND.replace("mttr_h: 8", f"mttr_h: 8, fault_shares: {{{fault}: 0.5}}")
    (problem,) = json.loads(interlock("rate", bench(section), "--json", *DAY).out)["problems"]
    assert says in f"{problem['why']} {problem['instead']}"
