"""A draft says exactly what is missing, and completed it is the description of the bench."""

import re

import numpy as np
import pytest
from look_material import DATA, DBC, SAMPLE, candump, counting
from needed import need_extra

from interlock.bench import load_bench
from interlock.errors import BenchError, InterlockError
from interlock.look import draft, look, write_new

UNDECIDED = (
    *("id", "name", "place", "bus_voltage", "max_speed", "devices", "wiring", "required", "least", "most"),
    *(
        f"undecided.{name}"
        for name in (
            *(
                "cover_a",
                "cover_b",
                "torque_off_pb",
                "em_stop",
                "reset_pb",
                "supply_on_pb",
                "main_contactor_fb",
            ),
            *("torque_enable_drv", "torque_enable_lod", "drv_current", "lod_current", "bus_current"),
            *("drv_speed", "speed_ref", "bus_voltage"),
        )
    ),
)

MEANT = {  # what the engineer of the sample bench writes in place of the drafted keys
    "cover_a": "cover.a",
    "cover_b": "cover.b",
    "torque_off_pb": "button.actuated",
    "em_stop": "estop.actuated",
    "reset_pb": "reset.pressed",
    "supply_on_pb": "supply_on.pressed",
    "main_contactor_fb": "contactor.main",
    "torque_enable_drv": "drive.enabled",
    "torque_enable_lod": "load.enabled",
    "drv_current": "drive.torque",
    "lod_current": "load.torque",
    "drv_speed": "shaft.speed",
    "bus_voltage": "bus.voltage",
}


@pytest.fixture
def drafted(tmp_path):
    (tmp_path / "bench.dbc").write_bytes(DBC.read_bytes())
    begun = draft(
        look([DATA / "short.log"], tmp_path / "bench.dbc"), tmp_path / "bench.dbc", tmp_path / "bench.yaml"
    )
    write_new(tmp_path / "bench.yaml", begun.text)
    return tmp_path / "bench.yaml", begun


def problems_of(path):
    with pytest.raises(BenchError) as refused:
        load_bench(path)
    return refused.value.problems


def test_loading_a_draft_lists_each_undecided_entry_once_and_nothing_else(drafted):
    path, begun = drafted
    problems = problems_of(path)
    assert [one.what for one in problems] == list(UNDECIDED)
    assert begun.undecided == len(UNDECIDED)
    lines = begun.text.splitlines()
    for one in problems:
        assert "undecided" in lines[one.line - 1][one.column - 1 :].split("#")[0]


def section(text: str, name: str) -> str:
    """A top-level section of a bench file, its key included."""
    found = re.search(rf"^{name}:.*?(?=^\S)", text, flags=re.M | re.S)
    assert found is not None
    return found[0]


def completed(text: str) -> str:
    sample = SAMPLE.read_text()
    text = text.replace(section(text, "bench"), section(sample, "bench"))
    for name in ("devices", "wiring", "required"):
        text = re.sub(
            rf"^{name}: undecided.*\n", lambda _, name=name: section(sample, name), text, flags=re.M
        )
    text = text.replace("{least: undecided, most: undecided}", "{least: 0 ms, most: 4 ms}")
    for drafted, meant in MEANT.items():
        text = re.sub(rf'undecided\.{drafted}: ("?)undecided ', rf"{meant}: \1", text)
    text = text.replace("| > bound A", "| > 0.3 A")
    text = re.sub(r"^ *undecided\..*\n", "", text, flags=re.M)
    for low in ("TorqueOffPb", "EmStop"):
        text = text.replace(f"{low} is 1", f"{low} is 0")
    references = '    references.set: "|CTL_Refs.SpeedRef| > 0 1/min or |CTL_Refs.TorqueRef| > 0 Nm"\n'
    statuses = "    drive.status: DRV_Actual.DrvStatus\n    load.status: LOD_Actual.LodStatus\n"
    return text.replace("  values:", f"{references}  values:") + statuses


def test_a_completed_draft_is_the_bench(drafted):
    path, begun = drafted
    path.write_text(completed(begun.text))
    bench, sample = load_bench(path), load_bench(SAMPLE)
    assert bench.shows is not None and sample.shows is not None
    assert bench.shows.states == sample.shows.states
    assert bench.shows.values == sample.shows.values
    assert bench.required == sample.required
    for name, message in sample.shows.messages.items():
        found = bench.shows.messages[name]
        assert (found.period, found.longest_gap, found.alive) == (
            message.period,
            message.longest_gap,
            message.alive,
        )


def test_one_decision_takes_one_error_away(drafted):
    path, begun = drafted
    path.write_text(begun.text.replace("{least: undecided,", "{least: 0 ms,"))
    assert [one.what for one in problems_of(path)] == [name for name in UNDECIDED if name != "least"]


def test_messages_that_the_log_lacks_are_named(tmp_path):
    log = candump(tmp_path / "a.log", counting(20))
    begun = draft(look([log], DBC), DBC, tmp_path / "bench.yaml")
    assert "not in the log: CTL_Refs, DRV_Actual, LOD_Actual, PSU_Bus, TQS_Torque\n" in begun.text
    assert "values:" not in begun.text


def test_a_message_seen_once_has_no_period(tmp_path):
    (tmp_path / "bench.dbc").write_bytes(DBC.read_bytes())
    log = candump(tmp_path / "a.log", [*counting(20), (300_000, "340#00000000")])
    path = tmp_path / "bench.yaml"
    write_new(path, draft(look([log], DBC), tmp_path / "bench.dbc", path).text)
    whats = [one.what for one in problems_of(path)]
    assert whats.count("period") == whats.count("longest_gap") == 1


def test_a_log_of_another_bench_makes_no_draft(tmp_path):
    log = candump(tmp_path / "a.log", [(0, "7FF#00"), (10_000, "7FF#00")])
    with pytest.raises(InterlockError, match="holds none of its messages"):
        draft(look([log], DBC), DBC, tmp_path / "bench.yaml")


def test_a_dbc_elsewhere_is_named_from_the_folder_of_the_draft(tmp_path):
    folder = tmp_path / "data base"
    folder.mkdir()
    dbc = folder / "a: b #1.dbc"
    dbc.write_bytes(DBC.read_bytes())
    path = tmp_path / "benches" / "bench.yaml"
    path.parent.mkdir()
    write_new(path, draft(look([DATA / "short.log"], dbc), dbc, path).text)
    assert [one.what for one in problems_of(path)] == list(UNDECIDED)


def test_with_the_word_taken_out_each_condition_is_one(drafted):
    """As the draft says: take the word out. What begins with a bar must not become a block of YAML by that."""
    path, begun = drafted
    text = re.sub(r'(undecided\.\w+: "?)undecided ', r"\1", begun.text).replace("> bound", "> 0.5")
    path.write_text(text)
    left = {one.what for one in problems_of(path)}
    assert left >= {"devices", "wiring", "required", "least", "most"}
    assert text != begun.text
    assert not [one for one in problems_of(path) if "compares no signal" in str(one) or "YAML" in str(one)]


def undated_part(path, first):
    """A part of a log as ASC without any date, its stamps counted from its own start."""
    rows = "".join(
        f"   {at / 100:.6f} 1  120  Rx   d 8 {3 * (at // 20 % 2):02X} 00 00 00 00 00 00 {at + first:02X}\n"
        for at in range(60)
    )
    path.write_text(f"base hex  timestamps absolute\n{rows}", encoding="ascii")
    return path


def test_parts_without_a_date_are_drafted_once_and_their_order_is_undecided(tmp_path) -> None:
    parts = [undated_part(tmp_path / f"{at}.asc", at * 60) for at in range(2)]
    (tmp_path / "bench.dbc").write_bytes(DBC.read_bytes())
    target = tmp_path / "bench.yaml"
    seen = look(parts, tmp_path / "bench.dbc")
    assert [one.name for one in seen.messages] == ["SAFE_State"] * 2
    text = draft(seen, tmp_path / "bench.dbc", target).text
    assert re.findall(r"^    (\w+):  # measured", text, flags=re.M) == ["SAFE_State"]
    assert (
        "    logger: {kind: can, parts: undecided}  # such as: {stamps: go_on}, or {stamps: begin_anew"
        in text
    )
    write_new(target, text)
    problems = problems_of(target)
    assert "parts" in [one.what for one in problems]
    assert not [one for one in problems if "twice" in str(one.why)]


def test_one_log_is_drafted_without_parts(drafted) -> None:
    _, begun = drafted
    assert "parts" not in begun.text
    assert "sources:" not in begun.text


def test_messages_that_a_recorder_had_decoded_are_drafted_as_messages_of_the_dbc(tmp_path) -> None:
    asammdf = need_extra("asammdf")
    (tmp_path / "bench.dbc").write_bytes(DBC.read_bytes())
    times = np.arange(200) / 100
    with asammdf.MDF(version="4.10") as mdf:
        signals = {"CoverA": times < 1, "CoverB": times < 1, "Alive": np.arange(200) % 256}
        mdf.append(
            [asammdf.Signal(values.astype(np.uint8), times, name=name) for name, values in signals.items()],
            acq_name="SAFE_State",
            common_timebase=True,
        )
        mdf.save(tmp_path / "run.mf4", overwrite=True)
    seen = look([tmp_path / "run.mf4"], tmp_path / "bench.dbc")
    assert [(one.name, one.identifier, one.decoded) for one in seen.messages] == [
        ("SAFE_State", 0x120, False)
    ]
    text = draft(seen, tmp_path / "bench.dbc", tmp_path / "bench.yaml").text
    assert "    SAFE_State:  # measured: 200 frames, 10 to 10 ms apart" in text
    assert "undecided.cover_a: undecided SAFE_State.CoverA is 1" in text
    assert "sources:" not in text
