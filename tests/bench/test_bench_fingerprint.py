"""One name for one content: what is no change of content changes nothing, everything else does."""

import copy
import hashlib
import random
import re
from decimal import Decimal
from pathlib import Path
from typing import Any, Literal

import pytest
import yaml
from bench_sample import FILE, FOLDER, TEXT, edited, load
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import BaseModel
from test_bench_schema import LEAVES, holder

from interlock.bench import Bench, bench_fingerprint
from interlock.bench.expr import parse
from interlock.bench.fingerprint import canonical, fingerprint
from interlock.bench.quantity import parse_quantity
from interlock.errors import BenchError

DATA = yaml.safe_load(TEXT)


def name(text: str) -> str:
    return bench_fingerprint(FILE, load(text))


NAME = name(TEXT)


def dumped(data: Any, *, flow: bool = False) -> str:
    return yaml.safe_dump(data, sort_keys=False, allow_unicode=True, default_flow_style=flow, width=10_000)


def shuffled(data: Any, rng: random.Random) -> Any:
    """The same content with the keys of every mapping in another order (lists keep theirs)."""
    if isinstance(data, list):
        return [shuffled(item, rng) for item in data]
    if not isinstance(data, dict):
        return data
    keys = list(data)
    rng.shuffle(keys)
    return {key: shuffled(data[key], rng) for key in keys}


class Before(BaseModel):
    of: str
    within: int = 5


class After(Before):
    """The same entry in a later version, which may say more."""

    in_series: list[str] = []
    why: str | None = None
    change: Literal["stops", "starts_nothing"] = "stops"


@pytest.mark.parametrize(
    ("stated", "same"),
    [
        ({"of": "k1"}, True),
        ({"of": "k1", "within": 5, "in_series": [], "why": None, "change": "stops"}, True),
        ({"of": "k1", "within": 6}, False),
        ({"of": "k1", "in_series": ["k2"]}, False),
        ({"of": "k1", "why": ""}, False),
        ({"of": "k1", "change": "starts_nothing"}, False),
        ({"of": "k2"}, False),
    ],
    ids=["none", "as they are", "within", "in_series", "why", "change", "of"],
)
def test_a_new_optional_entry_gives_no_older_bench_another_name(stated: dict[str, Any], same: bool) -> None:
    assert (canonical(After(**stated)) == canonical(Before(of="k1"))) is same


def test_it_is_a_sha_256() -> None:
    assert re.fullmatch("[0-9a-f]{64}", NAME)


def test_it_is_the_hash_of_the_canonical_content_and_of_the_files_hashes(tmp_path: Path) -> None:
    # FIPS 180-4, by Python's hashlib: SHA-256(canonical content, then SHA-256 of each file)
    file = tmp_path / "a"
    file.write_bytes(b"abc")
    whole = canonical({"b": 1, "a": [True, None]}).encode() + hashlib.sha256(b"abc").digest()
    assert canonical({"b": 1, "a": [True, None]}) == '{"a":[true,null],"b":1}'
    assert fingerprint({"b": 1, "a": [True, None]}, file) == hashlib.sha256(whole).hexdigest()


@settings(max_examples=15, deadline=None)
@given(st.randoms(use_true_random=False), st.booleans())
def test_order_of_keys_and_style_change_nothing(rng: random.Random, flow: bool) -> None:
    assert name(dumped(shuffled(DATA, rng), flow=flow)) == NAME


@settings(max_examples=15, deadline=None)
@given(st.lists(st.integers(0, TEXT.count("\n") - 1), max_size=5))
def test_comments_and_empty_lines_change_nothing(places: list[int]) -> None:
    lines = TEXT.split("\n")
    for place in places:
        lines.insert(place, "# a comment: [with signs" if place % 2 else "")
    assert name("\n".join(lines)) == NAME


# text of the sample, the same content in other words
SAME = {
    "ms as s": ("within: 100 ms", "within: 0.1 s"),
    "ms as us": ("within: 100 ms", "within: 100000 us"),
    "ms with exponent": ("within: 100 ms", "within: 1e2 ms"),
    "s as min": ("within: 6 s", "within: 0.1 min"),
    "no space": ("within: 100 ms", "within: 100ms"),
    "quoted": ("within: 100 ms", 'within: "100 ms"'),
    "more digits": ("within: 100 ms", "within: 100.000 ms"),
    "V as kV": ("bus_voltage: 96 V", "bus_voltage: 0.096 kV"),
    "1/min as rpm": ("max_speed: 1500 1/min", "max_speed: 1500 rpm"),
    "1/min as 1/s": ("max_speed: 1500 1/min", "max_speed: 25 1/s"),
    "kg m²": ("inertia: 0.011 kg m2", "inertia: 0.011 kg m²"),
    "brackets": ("relay.reset: reset.pressed", "relay.reset: (reset.pressed)"),
    "space in an expression": ("cover.a and button.a", "cover.a   and button.a"),
    "digits in a condition": ("> 0.3 A", "> 0.30 A"),
    "space in a condition": ("SAFE_State.CoverA is 1", "SAFE_State.CoverA  is  1.0"),
    "default said": ("name: chamber cover}", 'name: chamber cover, type: "", delays: {}}'),
    "default left": (", alive_modulo: 256}", "}"),
    "folded text": ("place: not stated", "place: >-\n    not\n    stated"),
}


@pytest.mark.parametrize("case", SAME)
def test_other_words_for_the_same_change_nothing(case: str) -> None:
    assert name(edited(SAME[case])) == NAME


OTHER = {
    "a limit": ("within: 100 ms", "within: 101 ms"),
    "a nanosecond": ("within: 100 ms", "within: 100.000001 ms"),
    "a name": ("name: chamber cover", "name: chamber lid"),
    "a capital": ("name: chamber cover", "name: Chamber cover"),
    "a source": ("source: the bench's engineer}", "source: somebody}"),
    "a wire": ("drive.sto_b: relay.out_b", "drive.sto_b: relay.out_a"),
    "a default wired": ("relay.reset: reset.pressed", "relay.reset: reset.pressed\n  relay.feedback: never"),
    "a device": ("  shaft: {kind", "  lamp: {kind: shaft, name: lamp}\n  shaft: {kind"),
    "an id": ("id: sample", "id: sample2"),
    "a rating": ("bus_voltage: 96 V", "bus_voltage: 97 V"),
    "a rating lost": (", inertia: 0.011 kg m2", ""),
    "a category": ("stop_category: 0", "stop_category: 1"),
    "an effect less": ("[torque_off, references_zero, standstill]", "[torque_off, references_zero]"),
    "a threshold": ("> 0.3 A", "> 0.31 A"),
    "an operator": ("> 0.3 A", ">= 0.3 A"),
    "a magnitude": ('"|DRV_Actual.DrvCurrent| > 0.3 A"', "DRV_Actual.DrvCurrent > 0.3 A"),
    "an or": ("0 1/min or |CTL", "0 1/min and |CTL"),
    "a counter": ("alive_modulo: 256", "alive_modulo: 16"),
    "a section": ("shows:  # how", "rating: {a: 1}\nshows:  # how"),
    "a delay": ("drop_out: 50 ms", "drop_out: 51 ms"),
}


@pytest.mark.parametrize("case", OTHER)
def test_other_content_has_another_name(case: str) -> None:
    assert name(edited(OTHER[case])) != NAME


def test_all_these_names_differ() -> None:
    names = [name(edited(change)) for change in OTHER.values()]
    assert len({NAME, *names}) == len(names) + 1


@settings(max_examples=50, deadline=None)
@given(
    st.sampled_from(LEAVES),
    st.sampled_from(["7 s", "3 V", "8 1/min", "other text", "drive", "standstill", 1, 2]),
)
def test_any_change_of_a_value_that_loads_changes_the_name(
    path: tuple[str | int, ...], value: object
) -> None:
    data = copy.deepcopy(DATA)
    old = holder(data, path)
    holder(data, path[:-1])[path[-1]] = value
    try:
        new = name(dumped(data))
    except BenchError:
        return
    assert (new == NAME) == (value == old)


@pytest.mark.parametrize("damage", [b" ", b"\n", b"BO_ 1 X: 8 X\n"])
def test_any_byte_of_the_dbc_counts(tmp_path: Path, damage: bytes) -> None:
    data = (FOLDER / "bench.dbc").read_bytes()
    bench = load(TEXT)
    (tmp_path / "bench.dbc").write_bytes(data)
    assert bench_fingerprint(tmp_path / "bench.yaml", bench) == NAME
    (tmp_path / "bench.dbc").write_bytes(data + damage)
    assert bench_fingerprint(tmp_path / "bench.yaml", bench) != NAME


def test_the_name_of_the_bench_file_does_not_count(tmp_path: Path) -> None:
    (tmp_path / "bench.dbc").write_bytes((FOLDER / "bench.dbc").read_bytes())
    assert bench_fingerprint(tmp_path / "other.yaml", load(TEXT)) == NAME


def test_a_kind_that_is_used_counts_and_one_that_is_not_counts_as_text() -> None:
    lamp = "kinds: {{lamp: {{text: {}, start: a, states: {{a: x}}, outputs: {{}}, transitions: []}}}}\n\ndevices:"
    one, other = (name(edited(("devices:", lamp.format(text)))) for text in ("lamp", "lantern"))
    assert len({NAME, one, other}) == 3


def test_a_bench_without_log_has_a_name() -> None:
    bench = load(TEXT[: TEXT.index("shows:")])
    assert bench_fingerprint(Path("nowhere/bench.yaml"), bench) != NAME


@pytest.mark.parametrize(
    ("content", "text"),
    [
        (parse_quantity("0.1 s", "time"), '["time","100000000"]'),
        (parse_quantity("-0 V", "voltage"), '["voltage","0"]'),
        (parse_quantity("1e3 V", "voltage"), '["voltage","1000"]'),
        (parse("a and (b or not c)"), '"a and (b or not c)"'),
        (1.0, "1"),
        (0.5, "0.5"),
        (-0.0, "0"),
        (1e300, str(10**300 + (int(1e300) - 10**300))),
        (True, "true"),
        ("1", '"1"'),
        ("ä", '"ä"'),
        ((1, "a"), '[1,"a"]'),
    ],
)
def test_canonical_forms(content: object, text: str) -> None:
    assert canonical(content) == text


@pytest.mark.parametrize("content", [float("nan"), float("inf")])
def test_no_name_for_what_is_no_number(content: float) -> None:
    with pytest.raises((ValueError, OverflowError)):
        canonical(content)


@pytest.mark.parametrize("content", [object(), {1, 2}, b"x", Decimal(1)])
def test_no_name_for_unknown_content(content: object) -> None:
    with pytest.raises(TypeError, match=f"no canonical form for {type(content).__name__}"):
        canonical(content)


json_like = st.recursive(
    st.one_of(
        st.none(),
        st.booleans(),
        st.integers(),
        st.floats(allow_nan=False, allow_infinity=False),
        st.text(max_size=3),
    ),
    lambda below: st.one_of(
        st.lists(below, max_size=3), st.dictionaries(st.text(max_size=2), below, max_size=3)
    ),
    max_leaves=6,
)


def typed(value: Any) -> Any:
    """The value with truth values told from numbers, which Python holds equal."""
    if isinstance(value, list):
        return ("list", [typed(item) for item in value])
    if isinstance(value, dict):
        return ("dict", {key: typed(item) for key, item in value.items()})
    return (isinstance(value, bool), value)


@given(json_like, json_like)
def test_two_contents_have_one_form_only_if_they_are_one(left: object, right: object) -> None:
    assert (canonical(left) == canonical(right)) == (typed(left) == typed(right))


def test_the_bench_itself_is_what_is_named() -> None:
    bench = load(TEXT)
    again = Bench.model_validate(yaml.safe_load(TEXT))
    assert canonical(bench) == canonical(again)
