"""Packing against cantools, which decodes what the twin packed (a general-purpose DBC library as reference)."""

from pathlib import Path

import cantools
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sample_layout import SAMPLE_DBC

from interlock.demo.cell import cell
from interlock.twin.pack import Place, layouts, pack

DBCS = {"cell": cell().dbc, "sample": SAMPLE_DBC.read_text(encoding="ascii")}
MESSAGES = [(bench, name) for bench, dbc in DBCS.items() for name in layouts(dbc)]


@pytest.mark.parametrize(("bench", "name"), MESSAGES)
def test_cantools_decodes_every_raw_number_that_was_packed(bench: str, name: str) -> None:
    layout = layouts(DBCS[bench])[name]
    message = cantools.database.load_string(DBCS[bench], "dbc").get_message_by_name(name)
    rng = np.random.default_rng(1)
    raws = {}
    for signal, place in layout.signals.items():
        low = -(1 << (place.length - 1)) if place.signed else 0
        raws[signal] = rng.integers(low, low + (1 << place.length), 60)
        raws[signal][:2] = low, low + (1 << place.length) - 1
    values = {s: raws[s] * layout.signals[s].scale + layout.signals[s].offset for s in raws}
    payload = pack(layout, values)
    assert payload.shape == (60, message.length)
    for k in range(60):
        decoded = message.decode(payload[k].tobytes(), decode_choices=False, scaling=False)
        assert decoded == {s: int(raws[s][k]) for s in raws}
        assert message.encode(decoded, scaling=False, strict=False) == payload[k].tobytes()


@pytest.mark.parametrize(("bench", "name"), MESSAGES)
def test_identifiers_are_those_of_the_data_base(bench: str, name: str) -> None:
    message = cantools.database.load_string(DBCS[bench], "dbc").get_message_by_name(name)
    layout = layouts(DBCS[bench])[name]
    assert (layout.frame_id, layout.extended) == (message.frame_id, message.is_extended_frame)


@st.composite
def one_signal(draw: st.DrawFn) -> tuple[str, int]:
    """A DBC text with one signal anywhere in eight bytes, of either byte order, and a raw number for it."""
    length = draw(st.integers(1, 32))
    signed = draw(st.booleans()) and length > 1
    first = draw(st.integers(0, 64 - length))
    motorola = f"{8 * (first // 8) + 7 - first % 8}|{length}@0"
    place = draw(st.sampled_from((f"{first}|{length}@1", motorola)))
    low = -(1 << (length - 1)) if signed else 0
    raw = draw(st.integers(low, low + (1 << length) - 1))
    sign = "-" if signed else "+"
    return f'VERSION ""\nBU_: A\nBO_ 5 M: 8 A\n SG_ S : {place}{sign} (1,0) [0|0] "" A\n', raw


@settings(max_examples=60, deadline=None)
@given(one_signal())
def test_any_signal_of_any_byte_order(case: tuple[str, int]) -> None:
    dbc, raw = case
    payload = pack(layouts(dbc)["M"], {"S": np.array([float(raw)])})
    message = cantools.database.load_string(dbc, "dbc").get_message_by_name("M")
    assert message.decode(payload[0].tobytes(), decode_choices=False) == {"S": raw}


def test_rounding_is_to_the_nearest_step_and_saturates() -> None:
    place = Place(0, 8, motorola=False, signed=True, scale=0.5, offset=10.0)
    values = np.array([10.2, 10.3, 9.9, 1000.0, -1000.0])
    assert place.raw(values).tolist() == [0, 1, 0, 127, -128]


def test_a_signal_that_the_message_lacks_is_an_error() -> None:
    with pytest.raises(KeyError):
        pack(layouts(DBCS["cell"])["ShaftTorque"], {"Nothing": np.zeros(1)})


def test_the_data_base_of_the_cell_is_the_one_beside_the_demo() -> None:
    shipped = Path(__file__).parents[2] / "interlock" / "demo" / "bench.dbc"
    assert shipped.read_text(encoding="ascii") == DBCS["cell"]
