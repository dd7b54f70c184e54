"""The sample bench loads, says what its engineer says, and the helpers of these tests find places rightly."""

import pytest
from bench_sample import FILE, MARK, TEXT, check, edited, found, load, marks

from interlock.bench import Bench, bench_fingerprint, dbc_path, kinds_of, load_bench
from interlock.errors import InterlockError


@pytest.fixture(scope="module")
def bench() -> Bench:
    return load_bench(FILE)


def test_its_times_are_whole_nanoseconds(bench: Bench) -> None:
    # the figures stand in the bench file's text; 1 ms = 10^6 ns, 1 s = 10^9 ns (SI Brochure, table 7)
    effects = bench.required.effects
    assert effects.torque_off.within == 100_000_000
    assert effects.standstill is not None
    assert effects.standstill.within == 6_000_000_000
    assert bench.shows is not None
    assert bench.shows.messages["DRV_Actual"].longest_gap == 17_500_000
    assert bench.shows.stamp_delay.least == 0


def test_its_quantities_are_in_base_units(bench: Bench) -> None:
    effects, ratings = bench.required.effects, bench.bench.ratings
    assert effects.standstill is not None
    assert effects.standstill.below.number == 5.0
    assert ratings.bus_voltage.number == 96.0
    assert ratings.inertia is not None
    assert (ratings.inertia.number, str(ratings.inertia)) == (0.011, "0.011 kg m2")


def test_its_functions_are_those_that_scripts_rely_on(bench: Bench) -> None:
    functions = bench.required.functions
    assert list(functions) == ["cover_stop", "button_stop", "emergency_stop"]
    assert bench.required.effects.torque_off.of == ["drive", "load"]
    assert {name: function.demand for name, function in functions.items()} == {
        "cover_stop": "cover",
        "button_stop": "button",
        "emergency_stop": "estop",
    }


def test_every_input_without_default_is_wired(bench: Bench) -> None:
    needed = {
        f"{name}.{port}"
        for name, device in bench.devices.items()
        for port, default in kinds_of(bench)[device.kind].inputs.items()
        if default is None
    }
    assert needed <= set(bench.wiring)


def test_its_dbc_lies_beside_it(bench: Bench) -> None:
    assert dbc_path(FILE, bench) == FILE.parent / "bench.dbc"


def test_a_bench_that_shows_nothing_has_no_dbc(bench: Bench) -> None:
    silent = bench.model_copy(update={"shows": None})
    with pytest.raises(InterlockError, match=r"no section 'shows'; add it to judge logs"):
        dbc_path(FILE, silent)


def test_a_bench_without_shows_loads() -> None:
    text = TEXT[: TEXT.index("shows:")]
    assert load(text).shows is None


def test_a_dbc_that_is_gone_is_said(bench: Bench, tmp_path) -> None:
    with pytest.raises(InterlockError, match=r"it cannot be read \(No such file.*\); put it back"):
        bench_fingerprint(tmp_path / "bench.yaml", bench)


def test_a_loaded_bench_cannot_be_changed(bench: Bench) -> None:
    with pytest.raises(ValueError, match="frozen"):
        bench.bench.name = "another"  # type: ignore[misc]


def test_marks_are_counted_without_each_other() -> None:
    assert marks(f"ab{MARK}cd{MARK}\n{MARK}e") == [(1, 3), (1, 5), (2, 1)]


def test_the_harness_sees_a_wrong_place() -> None:
    text = edited(("within: 100 ms", f"{MARK}within: 100"))
    with pytest.raises(AssertionError):
        check(text, "within: '100' has no unit; write '100 ms' or another unit of time")
    assert len(found(text)) == 1


def test_the_harness_fails_on_a_text_that_loads() -> None:
    with pytest.raises(AssertionError, match="the text loads"):
        found(TEXT)
