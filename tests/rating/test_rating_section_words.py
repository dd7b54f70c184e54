"""Mistakes in the section `rating`, one after the other: each is told at its place, in the words of the file.

No standard speaks of this; the wordings are the suite's own.
"""

import re
from pathlib import Path

import pytest
import yaml

from interlock.errors import BenchError
from interlock.rating.section import rating_of

FILE = """\
devices: {hood: {}, k1: {}, drive: {}, q1: {}}
required: {functions: {hood_stop: {effects: [torque_off]}}}
rating:
  edition: 2023
  parts:
    contact_a: {source: s, typical: push_button, dc: 0.9, dc_source: s, operations: {per_year: 4400, source: s}}
    contact_b: {source: s, mttfd_years: 80, dc: 0.9, dc_source: s}
  functions:
    hood_stop:
      required: {severity: S2, frequency: F1, avoidance: P2}
      proof_test_months: 12
      guard: {distance_mm: 900, approach_speed_mm_s: 1600, intrusion_mm: 0}
      subsystems:
        contacts:
          devices: [hood]
          category: 3
          channels: [[contact_a], [contact_b]]
          ccf: [separation]
        relay: {devices: [k1], pl: e, pfhd_per_h: 2.3e-9, source: s}
        drive: {devices: [drive], pl: d, pfhd_per_h: 1.5e-8, source: s}
      not_rated: {q1: another way}
"""
FIXED = [
    "edition", "parts", "functions", "operations", "per_year", "mttfd_years", "typical", "required", "severity",
    "proof_test_months", "guard", "distance_mm", "subsystems", "devices", "category", "channels", "ccf",
    "pfhd_per_h", "not_rated",
]  # fmt: skip
LIBRARY = re.compile(r"[Ii]nput should|dictionary|instance of|None|True|False|NoneType|\bfloat\b|\bstr\b")


def told(tmp_path: Path, text: str) -> list[str]:
    file = tmp_path / "b.yaml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(BenchError) as raised:
        rating_of(file)
    return str(raised.value).replace(f"{tmp_path}/", "").splitlines()


def line_of(text: str, part: str) -> int:
    return text[: text.index(part)].count("\n") + 1


def in_rating(old: str, new: str) -> str:
    head, rating = FILE.split("rating:\n")
    assert old in rating, old
    return f"{head}rating:\n{rating.replace(old, new, 1)}"


def test_the_section_as_it_stands_is_right(tmp_path: Path) -> None:
    file = tmp_path / "b.yaml"
    file.write_text(FILE, encoding="utf-8")
    assert list(rating_of(file).functions) == ["hood_stop"]


@pytest.mark.parametrize("key", FIXED)
def test_a_misspelt_entry_is_told_where_it_stands_with_the_one_that_was_meant(
    tmp_path: Path, key: str
) -> None:
    wrong = f"{key[:-1]}x"
    text = in_rating(f"{key}:", f"{wrong}:")
    [said] = [one for one in told(tmp_path, text) if f"'{wrong}'" in one]
    assert said.startswith(f"b.yaml:{line_of(text, wrong)}:")
    assert "there is no such entry here; did you mean " in said
    assert key in said.partition("did you mean ")[2]


@pytest.mark.parametrize("key", ["edition", "functions", "required", "subsystems", "severity"])
def test_an_entry_that_is_missing_is_named_with_what_belongs_to_it(tmp_path: Path, key: str) -> None:
    lines = FILE.splitlines()
    at = next(n for n, line in enumerate(lines[2:], 2) if f"{key}:" in line)
    if key == "severity":
        text = in_rating("severity: S2, ", "")
    else:
        depth = len(lines[at]) - len(lines[at].lstrip())
        below = [n for n in range(at + 1, len(lines)) if len(lines[n]) - len(lines[n].lstrip()) <= depth]
        text = "\n".join([*lines[:at], *lines[(below or [len(lines)])[0] :]])
    said = "\n".join(told(tmp_path, text))
    assert key in said
    assert "must be given" in said or "give" in said


@pytest.mark.parametrize("value", ["[1, 2]", "{a: 1}", "17", "some words", "true", "'1e9'", '""'])
@pytest.mark.parametrize("key", ["parts", "operations", "subsystems", "devices", "channels", "ccf", "guard"])
def test_a_value_of_another_form_is_told_without_a_word_of_the_library(
    tmp_path: Path, key: str, value: str
) -> None:
    lines = FILE.splitlines()
    at = next(n for n, line in enumerate(lines[3:], 3) if f"{key}:" in line)
    old = lines[at]
    if (old.lstrip() + " ").startswith(f"{key}: "):
        depth = len(old) - len(old.lstrip())
        rest = lines[at + 1 :]
        while rest and len(rest[0]) - len(rest[0].lstrip()) > depth:
            rest = rest[1:]
        text = "\n".join([*lines[:at], f"{old[:depth]}{key}: {value}", *rest])
    else:
        text = "\n".join(
            [
                *lines[:at],
                re.sub(rf"{key}: (\{{.*?\}}|[^,}}]+)", lambda _: f"{key}: {value}", old),
                *lines[at + 1 :],
            ]
        )
    said = told(tmp_path, text)
    assert said
    for one in said:
        assert re.match(r"b\.yaml:\d+:\d+: '", one), one
        assert not LIBRARY.search(one), one


def test_lists_and_keys_are_shown_as_they_are_to_be_written(tmp_path: Path) -> None:
    [said] = told(tmp_path, in_rating("devices: [hood]", "devices: hood"))
    assert ": 'devices': 'hood' stands where a list should; write a list: [a, b]; see" in said
    text = in_rating("guard: {distance_mm: 900, approach_speed_mm_s: 1600, intrusion_mm: 0}", "guard: 900")
    [said] = told(tmp_path, text)
    assert "'guard': 900 stands where keys and values should; write them indented, with " in said
    assert "distance_mm" in said


@pytest.mark.parametrize(("times", "count"), [("[]", 0), ("[7.1]", 1), ("[7.1, 6.6]", 2)])
def test_too_few_openings_are_counted_in_plain_words(tmp_path: Path, times: str, count: int) -> None:
    timed = f"{{times_s: {times}, uncertain_s: 0.3, day: '2026-02-01', how: stopwatch}}"
    text = in_rating(
        "intrusion_mm: 0}", f"intrusion_mm: 0, unlock: delay, unlock_delay_s: 6, unlock_timed: {timed}}}"
    )
    (line,) = told(tmp_path, text)
    assert f"'times_s': it is a list of {count}: give 3 or more" in line


@pytest.mark.parametrize("number", ["1e-7", "1e7", "2.3e9", "1E-7"])
def test_what_is_advised_for_an_exponent_is_a_number_in_yaml(tmp_path: Path, number: str) -> None:
    """YAML 1.1 reads an exponent only with a sign and with a point before it; read back by PyYAML."""
    (line,) = told(tmp_path, in_rating("pfhd_per_h: 2.3e-9", f"pfhd_per_h: {number}"))
    advised = re.search(r"meant as a number: write ([^,]+), without quotes", line)
    assert advised is not None
    assert yaml.safe_load(advised[1]) == float(number)
