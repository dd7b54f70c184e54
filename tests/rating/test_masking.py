"""What the layout of guards in series allows: ISO/TR 24119:2015, Table 1 and the fault masking probability level.

One cell of the table was seen (no guard opened hourly, two others: medium); the others are from memory.
"""

from pathlib import Path

import jsonschema
import pytest

from interlock.bench import parse_bench
from interlock.chain import check_schema
from interlock.chain.series import Cabling
from interlock.errors import RatingError
from interlock.rating.iso14119 import masking_dc_class, masking_level
from interlock.rating.masking import masking_of

DOORS = (Path(__file__).parents[1] / "benches" / "shapes" / "three_doors.yaml").read_text("utf-8")


@pytest.mark.parametrize(
    ("frequent", "others", "level"),
    [
        (0, 2, 1),
        (0, 4, 1),
        (0, 5, 2),
        (0, 30, 2),
        (0, 31, 3),
        (1, 1, 1),
        (1, 2, 2),
        (1, 4, 2),
        (1, 5, 3),
        (2, 0, 3),
        (2, 1, 3),
    ],
)
def test_levels_by_number_and_use(frequent: int, others: int, level: int) -> None:
    assert masking_level(frequent, others) == level


@pytest.mark.parametrize("frequent", range(4))
@pytest.mark.parametrize("others", [0, 1, 2, 4, 5, 30, 31])
def test_more_guards_and_more_use_never_mask_less(frequent: int, others: int) -> None:
    if frequent + others < 2:
        with pytest.raises(RatingError):
            masking_level(frequent, others)
        return
    here = masking_level(frequent, others)
    assert masking_level(frequent, others + 1) >= here
    assert masking_level(frequent + 1, others) >= here
    assert (here, masking_dc_class(frequent, others)) in {(1, "medium"), (2, "low"), (3, "none")}


def doors(*opened: str | None) -> str:
    text = DOORS
    for number, said in enumerate(opened, 1):
        if said is not None:
            text = text.replace(
                f"  door_{number}: {{kind: guard_switch,",
                f"  door_{number}: {{kind: guard_switch, opened: {said},",
            )
    return text


def laid_out(entries: str, text: str = DOORS) -> str:
    """The bench whose relay says this of the guards in series at it."""
    before = "k1: {kind: safety_relay, name: safety relay"
    assert before in text
    return text.replace(before, f"{before}, series: {{{entries}}}")


ALONE = "people: one, open_together: never"


@pytest.mark.parametrize(
    ("opened", "frequent", "level", "dc"),
    [
        (("rarely", "rarely", "rarely"), 0, 1, "medium"),
        (("hourly", "rarely", "rarely"), 1, 2, "low"),
        (("hourly", "hourly", "rarely"), 2, 3, "none"),
        (("rarely", "rarely", None), 1, 2, "low"),  # of which nothing is said counts as opened hourly
        ((None, None, None), 3, 3, "none"),
    ],
)
def test_the_layout_of_a_bench(opened: tuple[str | None, ...], frequent: int, level: int, dc: str) -> None:
    [found] = masking_of(parse_bench("doors.yaml", laid_out(ALONE, doors(*opened))))
    assert (found.frequent, found.others, found.level, found.dc) == (frequent, 3 - frequent, level, dc)
    assert ("Nothing is said of" in found.sentence) == (None in opened)
    assert "halt button" in found.sentence


def test_one_contact_for_both_channels_leaves_no_coverage_at_all() -> None:
    text = doors("rarely", "rarely", "rarely").replace("door_1.b and door_2.b", "door_1.b and door_2.a")
    [found] = masking_of(parse_bench("doors.yaml", laid_out(ALONE, text)))
    assert (found.level, found.dc) == (1, "none")
    assert "Of second door one contact alone serves all inputs" in found.sentence


def test_the_result_fits_the_published_schema() -> None:
    [found] = masking_of(parse_bench("doors.yaml", DOORS))
    part = {"$ref": "#/$defs/masking", "$defs": check_schema()["$defs"]}
    jsonschema.validate(found.as_json(), part)
    assert "from memory" in found.as_json()["source"]


# How the lines run, as the cables of the bench file tell.


def cabled(*cables: str) -> str:
    """The bench with its doors' lines in cables, each told as lines with commas between."""
    told = "".join(
        f"  w{number}: {{name: cable {number}, lines: [{lines}]}}\n" for number, lines in enumerate(cables, 1)
    )
    return DOORS.replace("\nrequired:\n", f"\ncables:\n{told}\nrequired:\n")


OWN = ("door_1.a, door_1.b", "door_2.a, door_2.b", "door_3.a, door_3.b")


@pytest.mark.parametrize(
    ("cables", "cabling"),
    [
        (OWN, Cabling.OWN),
        ((*OWN, "halt.a, halt.b"), Cabling.OWN),
        (("door_1.a, door_1.b, halt.a", *OWN[1:]), Cabling.OWN),  # a stop button is no guard
        (("door_1.a, door_1.b, door_2.a, door_2.b", OWN[2]), Cabling.COMMON),
        (("door_1.a, door_3.b",), Cabling.COMMON),  # one pair suffices, whatever else is not told
        (OWN[:2], Cabling.UNSAID),
        (("door_1.a, halt.a", *OWN[1:]), Cabling.UNSAID),  # of the first door one line only
    ],
)
def test_cabling_is_read_from_the_cables(cables: tuple[str, ...], cabling: Cabling) -> None:
    [found] = masking_of(parse_bench("doors.yaml", cabled(*cables)))
    assert found.cabling is cabling
    assert found.as_json()["cabling"] == cabling.value


def test_without_cables_nothing_is_said_of_the_cabling() -> None:
    [found] = masking_of(parse_bench("doors.yaml", DOORS))
    assert found.cabling is Cabling.UNSAID
    assert "does not say in which cables" in found.sentence


@pytest.mark.parametrize("cables", [(), OWN, ("door_1.a, door_3.b",)])
def test_no_cabling_changes_the_class_and_the_reader_is_sent_to_the_standard(cables: tuple[str, ...]) -> None:
    text = cabled(*cables) if cables else DOORS
    [found] = masking_of(parse_bench("doors.yaml", text))
    assert (found.level, found.dc, found.method) == (3, "none", "simplified")
    assert "Its tables are not at hand, so the class of the simplified method stands" in found.sentence


def test_a_common_cable_is_named() -> None:
    [found] = masking_of(parse_bench("doors.yaml", cabled("door_1.a, door_1.b", "door_2.a, door_3.b")))
    assert "lines of several of these guards run in one cable: cable 2 (branch or loop" in found.sentence
    assert "cable 1" not in found.sentence
