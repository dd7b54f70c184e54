"""Guards in series rated by their layout: ISO/TR 24119:2015 (ISO 14119:2024, annex K).

The notes to Table 1 (several people, guards open together) are from memory. Of the tables of the regular method (6.3)
no cell is at hand: a class comes into play only if whoever describes the bench read it, and within our own bounds.
"""

from itertools import product

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st
from test_masking import ALONE, DOORS, doors, laid_out

from interlock.bench import parse_bench
from interlock.chain import check_schema
from interlock.errors import RatingError
from interlock.rating.iso14119 import masking_best_pl, masking_dc_class, masking_dc_regular, masking_level
from interlock.rating.masking import Masking, masking_of

CLASSES = ("none", "low", "medium", "high")
FULL = "cabling: star, protected: true, signals: pulsed, switching: diverse"
RARE = ("rarely", "rarely", "rarely")
OFTEN = ("hourly", "hourly", "rarely")


def judged(entries: str, *opened: str | None, text: str | None = None) -> Masking:
    bench = text or doors(*opened)
    [found] = masking_of(parse_bench("doors.yaml", laid_out(entries, bench) if entries else bench))
    return found


def read(coverage: str) -> str:
    return f"regular: {{coverage: {coverage}, source: 'own copy, 6.3, cell of this layout'}}"


@pytest.mark.parametrize(
    ("entries", "opened", "level", "dc", "best"),
    [  # Table 1 with its notes (from memory); the levels by ISO 13849-1:2015, Table K.1, row 100 years
        (ALONE, RARE, 1, "medium", "e"),
        ("people: several, open_together: never", RARE, 2, "low", "d"),  # one more counts as opened hourly
        ("open_together: never", RARE, 2, "low", "d"),  # not said: the worst
        ("", RARE, 2, "low", "d"),
        (ALONE, ("hourly", "rarely", "rarely"), 2, "low", "d"),
        ("people: several, open_together: never", ("hourly", "rarely", "rarely"), 3, "none", "c"),
        ("people: one, open_together: in_normal_work", RARE, 3, "none", "c"),
        (ALONE, OFTEN, 3, "none", "c"),
    ],
)
def test_number_use_and_people_give_level_class_and_best_performance_level(
    entries: str, opened: tuple[str, ...], level: int, dc: str, best: str
) -> None:
    found = judged(entries, *opened)
    assert (found.method, found.level, found.dc, found.max_pl) == ("simplified", level, dc, best)


@pytest.mark.parametrize(
    ("level", "stated", "dc"),
    [  # our own bounds, no source: never above medium, nothing at level 3
        (1, "high", "medium"),
        (1, "medium", "medium"),
        (1, "low", "low"),
        (1, "none", "none"),
        (2, "high", "medium"),
        (2, "low", "low"),
        (3, "high", "none"),
        (3, "low", "none"),
    ],
)
def test_a_class_read_in_the_regular_method_counts_within_bounds(level: int, stated: str, dc: str) -> None:
    assert masking_dc_regular(level, stated) == dc


@pytest.mark.parametrize("call", [lambda: masking_dc_regular(1, "good"), lambda: masking_best_pl("high")])
def test_other_classes_are_refused(call) -> None:
    with pytest.raises(RatingError):
        call()


@pytest.mark.parametrize(
    ("coverage", "opened", "level", "dc"),
    [
        ("medium", RARE, 1, "medium"),
        ("low", RARE, 1, "low"),
        ("high", RARE, 1, "medium"),
        ("high", OFTEN, 3, "none"),
    ],
)
def test_the_regular_method_of_a_bench(coverage: str, opened: tuple[str, ...], level: int, dc: str) -> None:
    found = judged(f"{ALONE}, {FULL}, {read(coverage)}", *opened)
    assert (found.method, found.level, found.dc) == ("regular", level, dc)
    assert f"its tables allow {coverage} coverage" in found.sentence
    assert "own copy, 6.3, cell of this layout" in found.sentence
    assert "own copy" in found.as_json()["source"]
    assert (f"is held to {dc} here" in found.sentence) is (coverage != dc)


def test_one_contact_for_both_channels_leaves_nothing_by_the_regular_method_either() -> None:
    text = doors(*RARE).replace("door_1.b and door_2.b", "door_1.b and door_2.a")
    found = judged(f"{ALONE}, {FULL}, {read('medium')}", text=text)
    assert (found.dc, found.max_pl) == ("none", "c")
    assert "It is not taken, for the reason above." in found.sentence


def test_guards_open_together_leave_nothing_by_the_regular_method_either() -> None:
    found = judged(f"open_together: in_normal_work, {FULL}, {read('medium')}", *RARE)
    assert (found.level, found.dc) == (3, "none")
    assert "It is not taken" in found.sentence


LAYOUTS = [
    ", ".join(filter(None, parts))
    for parts in product(
        ["", "cabling: star", "cabling: branch", "cabling: loop"],
        ["", "protected: true", "protected: false"],
        ["", "signals: pulsed", "signals: static"],
    )
]


@pytest.mark.parametrize("layout", LAYOUTS)
def test_no_cabling_alone_makes_the_class_milder_than_the_simplified_method(layout: str) -> None:
    entries = ", ".join(filter(None, [ALONE, layout, "switching: diverse"]))
    found = judged(entries, "hourly", "rarely", "rarely")
    assert found.dc == masking_dc_class(1, 2)
    assert ("Not said (entries" in found.sentence) is (layout.count(":") < 3)


WORSE = {  # each entry from mild to cautious; what is not said stands last but for what is worse than silence
    "people": ("people: one", "people: several", ""),
    "together": ("open_together: never", "", "open_together: in_normal_work"),
    "read": tuple(read(one) for one in reversed(CLASSES)),
}


@given(
    st.tuples(st.integers(0, 2), st.integers(0, 2), st.integers(0, 3)),
    st.sampled_from(["people", "together", "read"]),
    st.lists(st.sampled_from(["hourly", "rarely", None]), min_size=3, max_size=3),
)
def test_a_more_cautious_layout_never_gives_a_milder_class(
    chosen: tuple[int, int, int], what: str, opened: list[str | None]
) -> None:
    at = dict(zip(WORSE, chosen, strict=True))
    worse = {**at, what: min(at[what] + 1, len(WORSE[what]) - 1)}
    mild, cautious = (
        judged(", ".join(filter(None, [FULL, *(WORSE[name][one] for name, one in each.items())])), *opened)
        for each in (at, worse)
    )
    assert CLASSES.index(cautious.dc) <= CLASSES.index(mild.dc)
    assert cautious.level >= mild.level
    assert cautious.max_pl <= mild.max_pl  # the letters from c to e


@given(st.integers(0, 4), st.integers(0, 40), st.sampled_from(CLASSES))
def test_the_regular_method_never_falls_milder_than_its_bounds(
    frequent: int, others: int, stated: str
) -> None:
    if frequent + others < 2:
        return
    level = masking_level(frequent, others)
    dc = masking_dc_regular(level, stated)
    assert CLASSES.index(dc) <= min(CLASSES.index(stated), CLASSES.index("medium"))
    assert level < 3 or dc == "none"
    if masking_dc_class(frequent, others) == "none":
        assert dc == "none"


@pytest.mark.parametrize("entries", ["", ALONE, f"{ALONE}, {FULL}", f"{ALONE}, {FULL}, {read('low')}"])
def test_every_result_fits_the_schema_and_names_guards_as_people_do(entries: str) -> None:
    found = judged(entries, *RARE).as_json()
    jsonschema.validate(found, {"$ref": "#/$defs/masking", "$defs": check_schema()["$defs"]})
    assert found["words"] == "first door, second door, third door at the safety relay"
    assert "door_1" not in found["sentence"]
    assert found["layout"]["people"] == ("one" if entries else None)


def test_what_is_not_said_is_named_with_what_it_counts_as() -> None:
    said = judged("", text=DOORS).sentence
    assert "entry 'people' of 'series'): taken as several" in said
    assert (
        "(entries cabling, protected, signals, switching of 'series'), and counted as the worst: a common cable;"
        in said
    )
    whole = judged(f"{ALONE}, {FULL}", *RARE).sentence
    assert "Not said" not in whole
    assert "taken as several" not in whole
    assert (
        "Layout by the bench file: star cabling; lines protected from damage; lines tested by pulses;"
        in whole
    )
