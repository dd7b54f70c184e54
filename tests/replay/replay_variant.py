"""The sample bench with some of its description changed."""

import tempfile
from pathlib import Path

from replay_tape import BENCH_FILE

from interlock.bench import Bench, load_bench

UNITLESS = (  # what takes the load unit away
    ("  load: {kind: drive_unit, name: load unit}\n", ""),
    ("  load.sto_a: relay.out_a\n  load.sto_b: relay.out_b\n  load.supply: bus.live\n", ""),
    (" or not load.enabled", ""),
    ("of: [drive, load]", "of: [drive]"),
    ("    load.enabled: SAFE_State.TorqueEnableLod is 1\n", ""),
    ('    load.torque: "|LOD_Actual.LodCurrent| > 0.3 A"\n', ""),
    ("    load.status: LOD_Actual.LodStatus\n", ""),
)
NO_REFERENCES = (
    ('    references.set: "|CTL_Refs.SpeedRef| > 0 1/min or |CTL_Refs.TorqueRef| > 0 Nm"\n', ""),
    ("    references_zero: {of: references, within: 200 ms, source: the bench's engineer}\n", ""),
    ("references_zero, ", ""),
)
BRIDGED = (  # only its supply takes the load's torque away
    (
        "  load.sto_a: relay.out_a\n  load.sto_b: relay.out_b\n",
        "  load.sto_a: always\n  load.sto_b: always\n",
    ),
    ("      demand: cover\n", "      demand: cover\n      units: [drive]\n"),
    ("      demand: button\n", "      demand: button\n      units: [drive]\n"),
)


def hidden(port: str) -> tuple[str, str]:
    """What takes an entry under `shows`, `states` away."""
    (line,) = [
        one for one in BENCH_FILE.read_text(encoding="utf-8").splitlines() if one.startswith(f"    {port}:")
    ]
    return f"{line}\n", ""


def variant(*pairs: tuple[str, str]) -> Bench:
    """The bench with each text replaced wherever it stands; it stands somewhere."""
    text = BENCH_FILE.read_text(encoding="utf-8")
    for old, new in pairs:
        assert old in text, old
        text = text.replace(old, new)
    with tempfile.TemporaryDirectory() as folder:
        Path(folder, "bench.dbc").write_bytes(BENCH_FILE.with_name("bench.dbc").read_bytes())
        Path(folder, "bench.yaml").write_text(text, encoding="utf-8")
        return load_bench(Path(folder, "bench.yaml"))
