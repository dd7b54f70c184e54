"""What no log of a bench can show is told with every result, and only where it is so."""

import numpy as np
import pytest
from replay_tape import BENCH, COVER, SAFE, Tape, found, sound
from replay_variant import BRIDGED, NO_REFERENCES, hidden, variant

from interlock.bench.bridged import is_bridged
from interlock.replay import document, judge_trace
from interlock.replay.coasting import coast_downs
from interlock.replay.limits import notes_of
from interlock.verdict import Verdict

START = (
    (
        "  reset: {kind: push_button",
        "  go: {kind: push_button, name: start button}\n  reset: {kind: push_button",
    ),
    ("    reset.pressed:", "    go.pressed: SAFE_State.SupplyOnPb is 0\n    reset.pressed:"),
)


def notes(*pairs: tuple[str, str]) -> list[str]:
    return list(notes_of(judge_trace(variant(*pairs), sound().trace()).observation))


def test_a_bench_that_shows_no_start_button_is_told_what_counts_as_a_start() -> None:
    (said,) = notes()
    assert "shows no start button" in said
    assert (
        "200 ms or more after a reset, the references being set anew, counts as started by a person" in said
    )
    (bare,) = notes(*NO_REFERENCES)
    assert "200 ms or more after a reset counts as started by a person" in bare


def test_a_bench_that_shows_one_is_not() -> None:
    assert notes(*START) == []


def test_the_note_stands_in_the_document_and_changes_no_verdict() -> None:
    said = judge_trace(BENCH, sound().trace())
    assert said.verdict is Verdict.PASS
    assert any("shows no start button" in one for one in document(said, "0" * 64)["notes"])


def test_braking_is_not_judged_and_where_it_is_required_that_is_said() -> None:
    first = ("      stop_category: 0\n", "      stop_category: 1\n")
    title = next(iter(BENCH.required.functions.values())).title
    (said,) = notes(*START, first)
    assert "braked before its torque goes, as stop category 1 asks, is not judged on logs" in said
    assert f"({title}" in said
    assert judge_trace(variant(first), sound().trace()).verdict is Verdict.PASS


def fed(tape: Tape) -> Tape:
    """The load's enable line shows that the drive is fed, as that of a bridged one does."""
    rows = tape.rows(SAFE)
    closed = tape.data[rows, 0] >> 6 & 1
    tape.data[rows, 1] = tape.data[rows, 1] & 0xFD | closed << 1
    return tape


@pytest.mark.parametrize(
    "shown", [lambda t: t, fed, lambda t: t.put("TorqueEnableLod", 1)], ids=["line", "fed", "on"]
)
def test_the_enable_line_of_a_bridged_unit_is_no_evidence(shown) -> None:
    """Whatever it shows, the unit is judged by its torque, as on a bench that does not show the line."""
    said = judge_trace(variant(*BRIDGED), shown(sound()).trace())
    bare = judge_trace(variant(*BRIDGED, hidden("load.enabled")), shown(sound()).trace())
    assert said.verdict is Verdict.PASS
    assert [one.as_json() for one in said.findings] == [one.as_json() for one in bare.findings]
    assert any(
        "load unit are bridged, so its enable line is not judged" in one for one in notes_of(said.observation)
    )
    assert not any("bridged" in one for one in notes_of(bare.observation))


def test_torque_that_a_bridged_unit_keeps_fails_all_the_same() -> None:
    tape = fed(sound()).hold("LodCurrent", 29.9, 32.0)
    said = judge_trace(variant(*BRIDGED), tape.trace())
    assert {one.function for one in found(said, "torque_off", verdict=Verdict.FAIL)} == {"emergency_stop"}


@pytest.mark.parametrize("pair", BRIDGED[1:])
def test_a_unit_with_wired_inputs_is_judged_by_its_line(pair) -> None:
    seen = judge_trace(variant(pair), sound().trace()).observation
    assert not is_bridged(seen.bench, "load")
    assert "load.enabled" in seen.tracks
    assert np.array_equal(seen.tracks["load.enabled"].stamps_ns, seen.tracks["drive.enabled"].stamps_ns)


ZONE = ("      demand: cover\n", "      demand: cover\n      units: [drive]\n")
"""A cover stop of the drive alone."""


def turned_by(driven: str) -> tuple[tuple[str, str], ...]:
    """The shaft is one whose wiring names what turns it."""
    watched = "  shaft: {kind: watched_shaft, name: shaft, delays: {coast_down: 6 s}}\n"
    return (
        ("  shaft: {kind: shaft, name: shaft}\n", watched),
        ("  references.zero:", f"  shaft.driven: {driven}\n  references.zero:"),
    )


@pytest.mark.parametrize("shaft", [(), turned_by("drive.torque or load.torque")], ids=["unsaid", "both"])
def test_while_a_unit_that_the_stop_leaves_alone_may_drive_no_coast_down_is_predicted(
    shaft: tuple[tuple[str, str], ...],
) -> None:
    """The load is under torque until long after; where nothing names what turns the shaft, that may be the load."""
    tape = sound().hold("LodCurrent", COVER.on - 0.1, COVER.start + 0.2)
    (told, *_) = coast_downs(judge_trace(variant(ZONE, *shaft), tape.trace()))
    assert told.taken is None
    assert (
        "this stop leaves the load unit alone, and while that may make torque the shaft does not coast; make it once"
        " more with the load unit switched off. Test it from there."
    ) in told.sentence
    (whole, *_) = coast_downs(judge_trace(variant(ZONE, *shaft), sound().trace()))
    assert whole.taken is not None


def test_a_unit_that_turns_another_shaft_does_not_hinder_the_prediction() -> None:
    """The same stop from the same speeds: the prediction is the one of a log in which the load made no torque."""
    alone = variant(ZONE, *turned_by("drive.torque"))
    busy = sound().hold("LodCurrent", COVER.on - 0.1, COVER.start + 0.2)
    told, quiet = (coast_downs(judge_trace(alone, tape.trace()))[0] for tape in (busy, sound()))
    assert told.taken is not None
    assert (told.taken, told.before, told.holds) == (quiet.taken, quiet.before, quiet.holds)


NO_COUNTER = (", alive: Alive, alive_modulo: 256", "")


@pytest.mark.parametrize("length", [0.0, 0.34, 2.137], ids=["whole", "a whole number of periods", "cut"])
def test_where_no_message_counts_every_result_says_what_cut_would_not_show(length: float) -> None:
    """Whatever the verdict: a cut of whole periods passes or fails as the bench itself would."""
    tape = sound().drop(None, COVER.on + 1, COVER.on + 1 + length)
    tape.us[tape.us >= (COVER.on + 1 + length) * 1e6] -= round(length * 1e6)
    said = judge_trace(variant(NO_COUNTER), tape.trace())
    (told,) = [one for one in document(said, "0" * 64)["notes"] if "counts its frames" in one]
    assert "a whole number of all periods, to within what the stamps stray, would not show" in told
    assert not [one for one in judge_trace(BENCH, tape.trace()).notes if "counts its frames" in one]
