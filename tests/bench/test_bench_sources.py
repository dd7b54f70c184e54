"""Sources of logs in a bench file: what they mean, each mistake at its word, fingerprint and schema."""

from typing import Any

import jsonschema
import pytest
import yaml
from bench_sample import TEXT, check, edited, load
from pydantic import ValidationError

from interlock.bench import bench_schema
from interlock.bench.fingerprint import canonical
from interlock.bench.source_models import Channel, Source, StatedClock, Table
from interlock.bench.sources import bus_of, delay_of, message_of, reference_of, source_of, sources_of

MESSAGES = "  messages:\n"
SCOPE = """\
  sources:
    logger: {kind: can}
    scope:
      kind: table
      table: {time: Time, units: 2}
      period: 200 us
      longest_gap: 1 ms
      stamp_delay: {least: 0 ms, most: 50 us}
      signals:
        sto: {from: CH1, unit: V, high_from: 15 V, low_to: 5 V}
        torque: {from: 3, unit: Nm, factor: 20, uncertain: 0.3 Nm, moves: 50 ms}
      clock:
        drift: 100 ppm
        edges: [{here: scope.sto is 1, there: SAFE_State.TorqueEnableDrv is 1}]
"""


def text_with(*changes: tuple[str, str]) -> str:
    """The sample with the sources above, some words of them changed (marks may stand in the new ones)."""
    sources = SCOPE
    for old, new in changes:
        assert old in sources, old
        sources = sources.replace(old, new, 1)
    return edited((MESSAGES, sources + MESSAGES))


def test_what_sources_mean() -> None:
    shows = load(text_with()).shows
    assert shows is not None
    assert reference_of(shows) == "logger"
    assert [source_of(shows, name) for name in ("SAFE_State", "scope", "not listed")] == [
        "logger",
        "scope",
        "logger",
    ]
    assert (delay_of(shows, "scope").most, delay_of(shows, "PSU_Bus").most) == (50_000, 4_000_000)
    stated = message_of(shows, "scope")
    assert (stated.period, stated.longest_gap, stated.alive) == (200_000, 1_000_000, None)
    assert stated.moves == {"torque": 50_000_000}
    assert stated.uncertain["torque"].value == 0.3
    assert message_of(shows, "PSU_Bus") is shows.messages["PSU_Bus"]
    assert bus_of(shows, "PSU_Bus") is None


def test_a_bench_without_sources_has_one_logger() -> None:
    shows = load(TEXT).shows
    assert shows is not None
    assert [one.kind for one in sources_of(shows).values()] == ["can"]
    assert source_of(shows, "SAFE_State") == reference_of(shows)


def test_a_bus_is_that_of_the_message_before_that_of_its_source() -> None:
    text = text_with(("logger: {kind: can}", "logger: {kind: can, bus: can0}"))
    text = text.replace("PSU_Bus: {period: 10 ms", "PSU_Bus: {bus: can1, period: 10 ms")
    shows = load(text).shows
    assert shows is not None
    assert (bus_of(shows, "SAFE_State"), bus_of(shows, "PSU_Bus")) == ("can0", "can1")


def test_rows_without_a_time_come_at_the_rate_of_the_table() -> None:
    table = {
        "time: Time, units: 2": "sample_rate: 3 kHz",
        "      period: 200 us\n      longest_gap: 1 ms\n": "",
    }
    shows = load(text_with(*table.items())).shows
    assert shows is not None
    assert (message_of(shows, "scope").period, message_of(shows, "scope").longest_gap) == (333_334, 666_668)


LISTED = "it is neither a source nor listed under messages, with its period and longest gap; list it there"
MISTAKES = {
    "kind": ("kind: can}", "kind: ‸canbus}", "kind: 'canbus' is none of the choices; did you mean can?"),
    "entry": (
        "longest_gap: 1 ms",
        "‸longst_gap: 1 ms",
        "unknown key 'longst_gap': 'scope' has no such entry; did you mean longest_gap?",
    ),
    "column": ("from: CH1", "from: ‸0", "from: there is no column 0; count the columns from 1"),
    "levels": (
        "{from: CH1, unit: V, high_from: 15 V, low_to: 5 V}",
        "‸{from: CH1, unit: V, high_from: 15 V}",
        "sto: one level of two is given; write both 'high_from' and 'low_to'",
    ),
    "levels_swapped": (
        "{from: CH1, unit: V, high_from: 15 V, low_to: 5 V}",
        "‸{from: CH1, unit: V, high_from: 5 V, low_to: 15 V}",
        "sto: 'low_to' is not below 'high_from'; write the lower level as 'low_to'",
    ),
    "level_unit": (
        "{from: CH1, unit: V, high_from: 15 V, low_to: 5 V}",
        "‸{from: CH1, unit: mV, high_from: 15 V, low_to: 5 V}",
        "sto: a level is in 'V', and the channel in 'mV'; write 'unit' and both levels alike",
    ),
    "signal_name": (
        "        sto: {from",
        "        ‸sto 1: {from",
        "key: 'sto 1' is no name of a signal; write letters, digits and _",
    ),
    "rate": (
        "{time: Time, units: 2}",
        "‸{units: 2}",
        "table: it needs one way to tell the time of a row; write either 'time' or 'sample_rate'",
    ),
    "drift": (
        "100 ppm",
        "‸2 %",
        "drift: '2 %' is no drift of a clock; write how far off at most, from 0 ppm to 1 %",
    ),
    "drift_unit": ("100 ppm", "‸100", "drift: '100' has no unit; write '100 ppm' or another unit of ratio"),
    "edge_of_other": (
        "here: scope.sto is 1",
        "here: ‸SAFE_State.TorqueEnableDrv is 1",
        "message 'SAFE_State': it is recorded by 'logger', and this is an edge of 'scope'; "
        "name a signal of that source",
    ),
    "edge_of_itself": (
        "there: SAFE_State.TorqueEnableDrv is 1",
        "there: ‸scope.sto is 1",
        "message 'scope': it is recorded by 'scope', and this is an edge of 'logger'; name a signal of that source",
    ),
    "edge_unknown": ("here: scope.sto is 1", "here: ‸scop.sto is 1", f"message 'scop': {LISTED}"),
    "edge_signal": (
        "here: scope.sto is 1",
        "here: ‸scope.stp is 1",
        "signal 'stp': the source has no signal of this name in the message; did you mean sto?",
    ),
    "edge_never": (
        "here: scope.sto is 1",
        "here: scope.sto is ‸2",
        "'is 2': the signal goes from 0 to 1, so this is never so; write a value that it takes",
    ),
    "edge_unit": (
        "here: scope.sto is 1",
        "here: scope.torque > 1 ‸A",
        "unit 'A': the source gives torque in 'Nm'; write the number in Nm",
    ),
    "delay": (
        "{least: 0 ms, most: 50 us}",
        "{least: ‸1 ms, most: 50 us}",
        "least: it is longer than 'most'; swap the two",
    ),
    "second_reference": (
        "logger: {kind: can}",
        "logger: {kind: can}\n    ‸other: {kind: vcd, signals: {a: A}}",
        "source 'other': like 'logger' it has no 'clock', so nothing says how far apart the two are; "
        "add 'clock: {drift: 100 ppm, edges: [...]}', or an offset",
    ),
}


@pytest.mark.parametrize("name", MISTAKES)
def test_a_mistake_is_told_at_its_word(name: str) -> None:
    old, new, said = MISTAKES[name]
    check(text_with((old, new)), said)


def test_a_clock_that_says_nothing() -> None:
    edges = "        edges: [{here: scope.sto is 1, there: SAFE_State.TorqueEnableDrv is 1}]\n"
    said = "clock: nothing says how the two clocks compare; write 'offset', 'edges' or both"
    check(text_with((edges, ""), ("        drift", "        ‸drift")), said)


def test_rows_with_times_need_a_longest_gap() -> None:
    said = "scope: without 'period' and 'longest_gap' nobody sees that rows are missing; write both"
    check(text_with(("      longest_gap: 1 ms\n", ""), ("      kind: table", "      ‸kind: table")), said)


def test_a_source_bears_no_name_of_a_message() -> None:
    text = text_with(("    scope:\n", "    ‸PSU_Bus:\n"))
    assert "PSU_Bus" in text  # an id is written in small letters, so no message of this DBC can be meant
    check(text, "key: 'PSU_Bus' is no id; write small letters, digits and _, beginning with a letter")


def test_messages_and_sources() -> None:
    two = (
        "logger: {kind: can}\n    other: {kind: can, clock: {drift: 1 ppm, offset: {least: 0 s, most: 1 s}}}"
    )
    text = text_with(("logger: {kind: can}", two))
    for name in ("SAFE_State", "DRV_Actual", "LOD_Actual", "CTL_Refs", "PSU_Bus"):
        text = text.replace(f"    {name}:", f"    ‸{name}:", 1)
    said = [
        f"message '{name}': it may come from 'logger' or 'other'; add 'source'"
        for name in ("SAFE_State", "DRV_Actual", "LOD_Actual", "CTL_Refs", "PSU_Bus")
    ]
    check(text, *said)
    listed = text_with().replace("PSU_Bus: {period: 10 ms", "PSU_Bus: {source: ‸scope, period: 10 ms")
    check(listed, "'scope': there is no source of CAN frames of this name; write logger")
    alone = edited(("PSU_Bus: {period: 10 ms", "PSU_Bus: {source: ‸x, period: 10 ms"))
    check(alone, "'x': there is no source of CAN frames of this name; describe it under shows, sources")


def test_a_message_needs_a_source_of_frames() -> None:
    text = text_with(
        ("    logger: {kind: can}\n", ""), ("        drift: 100 ppm\n", "        drift: 100 ppm\n")
    )
    text = text.replace("  sources:", "  ‸sources:").replace("      clock:", "      ‸clock:")
    check(
        text,
        "sources: none of them holds CAN frames, and messages come in such; add one of 'kind: can'",
        "clock: every source has one; remove 'clock' from the one by whose time the others are told",
    )


def test_a_source_is_not_listed_again_as_a_message() -> None:
    text = text_with().replace(MESSAGES, f"{MESSAGES}    ‸scope: {{period: 1 ms, longest_gap: 2 ms}}\n", 1)
    said = [
        "message 'scope': a source bears this name; its period and gap stand there; "
        "remove it here, or rename the source",
        "message 'scope': the DBC has no message of this name; "
        "write one of CTL_Refs, DRV_Actual, LOD_Actual, PSU_Bus, SAFE_State, TQS_Torque",
    ]
    places = text.replace("‸scope", "‸‸scope", 1)
    check(places, *said)


WRONG: list[tuple[type, dict[str, Any], str]] = [
    (Channel, {"from": "A", "factor": 0}, "makes every value the same"),
    (Channel, {"from": "A", "factor": float("inf")}, "makes every value the same"),
    (Channel, {"from": True}, "names no column"),
    (Channel, {"from": "A", "unit": "V", "uncertain": "1 A"}, "write both in one unit"),
    (Channel, {"from": "A", "unit": "V", "inverted": True}, "only a logic signal"),
    (
        Channel,
        {"from": "A", "unit": "V", "high_from": "2 V", "low_to": "1 V", "uncertain": "1 V"},
        "has no 'uncertain'",
    ),
    (Table, {"time": 1, "sample_rate": "1 Hz"}, "either 'time' or 'sample_rate'"),
    (Table, {"sample_rate": "0 Hz"}, "above zero"),
    (Table, {"sample_rate": "2 GHz"}, "one sample a nanosecond"),
    (Table, {"time": 1, "decimal": "comma"}, "cannot both"),
    (Table, {"time": 1, "units": 1}, "not below the headings"),
    (Table, {"time": 1, "headings": 3, "first_row": 3}, "not below headings"),
    (StatedClock, {"drift": "1 ppm"}, "nothing says"),
    (StatedClock, {"drift": "-1 ppm", "offset": {"least": "0 s", "most": "0 s"}}, "no drift of a clock"),
    (StatedClock, {"drift": "1 ppm", "offset": {"least": "0 s", "most": "-1 s"}}, "swap the two"),
    (
        StatedClock,
        {"drift": "1 ppm", "offset": {"least": "0 s", "most": "0 s"}, "steady": True},
        "belong to 'edges'",
    ),
    (Source, {"kind": "can", "signals": {"a": "A"}}, "those of the DBC"),
    (Source, {"kind": "sr"}, "needs its signals"),
    (Source, {"kind": "vcd", "signals": {"a": "A"}, "table": {"time": 1}}, "belongs to kind table"),
    (Source, {"kind": "vcd", "signals": {"a": "A"}, "bus": "1"}, "belongs to kind can"),
    (Source, {"kind": "vcd", "signals": {"a": "A"}, "period": "1 ms"}, "rows that bear a time"),
    (Source, {"kind": "can", "period": "1 ms"}, "at each message"),
    (
        Source,
        {"kind": "mf4", "signals": {"a": "A"}, "period": "2 ms", "longest_gap": "1 ms"},
        "shorter than 'period'",
    ),
    (Source, {"kind": "can", "parts": {"stamps": "begin_anew"}}, "they need it"),
    (
        Source,
        {"kind": "can", "parts": {"stamps": "go_on", "pause": {"least": "0 s", "most": "1 s"}}},
        "need it",
    ),
    (
        Source,
        {"kind": "can", "parts": {"stamps": "begin_anew", "pause": {"least": "-1 s", "most": "1 s"}}},
        "not negative",
    ),
]


@pytest.mark.parametrize(
    ("model", "data", "said"), WRONG, ids=lambda one: one if isinstance(one, str) else ""
)
def test_contradictions_are_refused(model: Any, data: dict[str, Any], said: str) -> None:
    with pytest.raises(ValidationError, match=said):
        model.model_validate(data)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("100 ppm", "50 ppm"),
        ("high_from: 15 V", "high_from: 12 V"),
        ("period: 200 us", "period: 100 us"),
        ("from: CH1", "from: CH2"),
    ],
)
def test_a_change_changes_the_fingerprint(old: str, new: str) -> None:
    before, after = load(text_with()), load(text_with((old, new)))
    assert canonical(before) != canonical(after)


def test_spelling_is_no_change() -> None:
    before, after = load(text_with()), load(text_with(("100 ppm", "0.01 %"), ("200 us", "0.2 ms")))
    assert canonical(before) == canonical(after)


def test_the_schema_admits_sources_and_refuses_what_does_not_belong() -> None:
    validator = jsonschema.Draft202012Validator(bench_schema())
    data = yaml.safe_load(text_with())
    validator.validate(data)
    data["shows"]["sources"]["scope"]["signals"]["short"] = "CH4"
    validator.validate(data)
    data["shows"]["sources"]["scope"]["kind"] = "tape"
    assert not validator.is_valid(data)
    data["shows"]["sources"]["scope"]["kind"] = "table"
    data["shows"]["sources"]["scope"]["colour"] = "green"
    assert not validator.is_valid(data)


def test_a_bench_whose_sources_all_hold_signals_needs_no_messages() -> None:
    sources = yaml.safe_load(SCOPE)["sources"]
    del sources["logger"], sources["scope"]["clock"]
    shown = {"stamp_delay": {"least": "0 ms", "most": "0 ms"}, "sources": sources}
    described = {**yaml.safe_load(TEXT), "shows": {**shown, "states": {"drive.enabled": "scope.sto is 1"}}}
    shows = load(yaml.safe_dump(described, allow_unicode=True)).shows
    assert shows is not None
    assert (shows.messages, shows.dbc, reference_of(shows)) == ({}, None, "scope")
    described["shows"]["messages"] = {}
    assert load(yaml.safe_dump(described, allow_unicode=True)).shows == shows


@pytest.mark.parametrize("sources", ["", "  sources: {logger: {kind: can}}\n"], ids=["none", "frames"])
def test_frames_need_the_messages_that_they_carry(sources: str) -> None:
    begin, end = TEXT.index(MESSAGES), TEXT.index("  states:  # true when")
    without = TEXT[:begin] + sources + TEXT[end:]
    check(
        without.replace("shows:", "‸shows:", 1), "missing entry 'messages': 'shows' needs it; add 'messages:'"
    )
    empty = TEXT[:begin] + sources + "  ‸messages: {}\n" + TEXT[end:]
    check(empty, "messages: it is empty; write at least one entry")
