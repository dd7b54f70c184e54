"""What the bench file states before the data are seen, through the verbs: decision rule, temperatures, counts.

Acceptance limits by JCGM 106:2012, 8.3 (from memory); U of a bounded error by JCGM 100:2008, 4.3.7.
"""

import json
import shutil
from math import sqrt
from pathlib import Path

import jsonschema
import pytest

from interlock.replay import replay_schema

FILE = "interlock/demo/bench.yaml"
AT = "  functions:\n    hood_stop:\n      title"


@pytest.fixture
def stated(root: Path, tmp_path: Path):
    """The demo's bench file with lines in front of its functions, and other changes."""

    def write(lines: str = "", *changes: tuple[str, str]) -> Path:
        text = (root / FILE).read_text("utf-8")
        for old, new in ((AT, f"{lines}{AT}"), *changes):
            assert old in text, old
            text = text.replace(old, new, 1)
        path = tmp_path / "bench.yaml"
        path.write_text(text, "utf-8")
        shutil.copy((root / FILE).with_name("bench.dbc"), tmp_path / "bench.dbc")
        return path

    return write


def rule(name: str, chain: str = "0 ms") -> str:
    return f'  decision: {{rule: {name}, measuring_chain: {chain}, source: "risk assessment, item 12"}}\n'


@pytest.mark.parametrize("name", ["guard band", "simple acceptance"])
def test_a_rule_that_every_time_keeps_changes_no_verdict(interlock, stated, demo_log, name) -> None:
    said = interlock("replay", stated(rule(name)), demo_log)
    assert said.code == 0
    assert f"Decision rule, stated in the bench file: {name} [risk assessment, item 12]." in said.out
    assert "Verdict: pass" in said.out


@pytest.mark.parametrize("name", ["guard band", "simple acceptance"])
def test_a_measuring_chain_that_reaches_beyond_a_limit_is_no_pass(interlock, stated, demo_log, name) -> None:
    """Both channels of the hood within 40 ms: seen up to 19 ms apart, with 25 ms more it cannot be told."""
    said = interlock("replay", stated(rule(name, "25 ms")), demo_log)
    assert said.code == 3
    assert "Verdict: inconclusive" in said.out
    assert (
        "uncertainty of the measuring chain (25 ms) it may be above 40 ms; a finer record or a better measuring "
        "chain would decide it [risk assessment, item 12]."
    ) in said.out


def test_a_guard_band_alone_refuses_what_the_interval_would_pass(interlock, stated, demo_log) -> None:
    """Should fail: a limit just above the longest torque off; the interval is within, its middle plus U is not."""
    plain = json.loads(interlock("replay", stated(), demo_log, "--json").out)
    worst = max(one["latency_ns"][1] for one in plain["findings"] if one["effect"] == "torque_off")
    low = max(
        one["latency_ns"][0]
        for one in plain["findings"]
        if one["latency_ns"] and one["latency_ns"][1] == worst
    )
    assert (worst + low) / 2 + (worst - low) / sqrt(3) > worst + 100_000
    limit = ("within: 80 ms, source", f"within: {worst + 100_000} ns, source")
    assert interlock("replay", stated("", limit), demo_log).code == 0
    assert interlock("replay", stated(rule("simple acceptance"), limit), demo_log).code == 0
    said = interlock("replay", stated(rule("guard band"), limit), demo_log)
    assert said.code == 3
    assert "But the stated guard band accepts" in said.out


def test_the_document_says_what_was_stated_and_keeps_its_older_keys(interlock, stated, demo_log) -> None:
    plain, ruled = (
        json.loads(interlock("replay", stated(lines), demo_log, "--json").out)
        for lines in ("", rule("guard band", "2 ms"))
    )
    for document in (plain, ruled):
        jsonschema.validate(document, replay_schema())
    assert set(plain) == set(ruled)
    assert plain["decision"] is None
    assert ruled["decision"] == {
        "rule": "guard band",
        "measuring_chain_ns": 2_000_000,
        "source": "risk assessment, item 12",
    }
    assert plain["findings"] == ruled["findings"]
    assert plain["bench"]["fingerprint"] != ruled["bench"]["fingerprint"]
    wider = [
        (after["expanded_uncertainty_ns"], before["expanded_uncertainty_ns"])
        for before, after in zip(plain["decisions"], ruled["decisions"], strict=True)
    ]
    assert all(after > before for after, before in wider)


def test_a_permitted_temperature_that_was_reached_is_shouted_and_fails_nothing(
    interlock, stated, demo_log
) -> None:
    hot = ("140 degC", "23 degC")
    said = interlock("replay", stated("", hot), demo_log)
    assert said.code == 0
    assert "23 °C are permitted: REACHED." in said.out
    near = interlock("replay", stated("", ("140 degC", "27 degC")), demo_log)
    assert "27 °C are permitted: whether they were reached is not certain." in near.out


def test_a_temperature_of_nothing_is_bad_input(interlock, stated, demo_log) -> None:
    said = interlock("replay", stated("", ("prime.winding_temperature: 140", "prime.heat: 140")), demo_log)
    assert said.code == 2
    assert "bench.yaml:" in said.err
    assert "there is no temperature of this name; write prime.winding_temperature" in said.err


def test_a_rule_of_another_name_is_bad_input_with_both_names(interlock, stated, demo_log) -> None:
    said = interlock("replay", stated(rule("shared risk")), demo_log)
    assert said.code == 2
    assert "simple acceptance" in said.err
    assert "guard band" in said.err


def test_counts_that_are_to_decide_are_missed_aloud_without_a_register(interlock, stated) -> None:
    use = "operations: {device: hood, per_year: 4400"
    said = interlock(
        "rate",
        stated("", (use, use.replace("per_year", "decides: counted, per_year"))),
        "--today",
        "2026-02-01",
    )
    text = " ".join(said.out.split())
    assert (
        "hood_switch_a: the counts of its device are to decide how often it is used, and none was given"
        in text
    )
    assert "where counts are to decide and none was given" in text


def test_a_part_with_a_day_of_installation_has_a_day_of_replacement(interlock, stated) -> None:
    part = "    hood_switch_a:\n      {source"
    bench = stated("", (part, part.replace("{source", '{installed: "2024-03-01", source')))
    for today, said in (
        ("2026-02-01", "is to be replaced by 2044-02-25"),
        ("2044-02-25", "that day has come"),
    ):
        text = " ".join(interlock("rate", bench, "--today", today).out.split())
        assert f"hood_switch_a, installed 2024-03-01, {'' if 'come' in said else said}" in text
        assert said in text
