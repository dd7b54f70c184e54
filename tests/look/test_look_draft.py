"""A draft says exactly what is missing, and completed it is the description of the bench."""

import re

import pytest
from look_material import DATA, DBC, SAMPLE, candump, counting

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
