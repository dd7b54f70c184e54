"""Guards in series, read from the wiring: ISO/TR 24119:2015, contacts of several guards in one path to one logic."""

import pytest
from chain_benches import sample
from chain_shapes import shape

from interlock.chain.series import Series, series_of

DOORS = "three_doors"
A, B = "door_1.a and door_2.a and door_3.a and halt.a", "door_1.b and door_2.b and door_3.b and halt.b"


def test_three_doors_at_one_relay() -> None:
    assert series_of(shape(DOORS)) == (Series("k1", ("door_1", "door_2", "door_3"), (), ("halt",)),)


def test_a_guard_alone_with_stop_buttons_makes_no_series_of_guards() -> None:
    assert series_of(sample()) == ()


def test_a_door_whose_one_contact_serves_both_channels_is_told() -> None:
    [found] = series_of(shape(DOORS, (B, B.replace("door_2.b", "door_2.a"))))
    assert found.single == ("door_2",)


@pytest.mark.parametrize(
    ("a", "guards"),
    [
        ("door_1.a and (door_2.a and door_3.a) and halt.a", ("door_1", "door_2", "door_3")),
        (
            "(door_1.a or door_2.a) and door_3.a and halt.a",
            ("door_1", "door_2", "door_3"),
        ),  # two paths, each of two
        ("door_1.a and halt.a or door_2.a and halt.a", ()),  # beside each other, never one behind the other
        ("door_1.a and not door_2.a and halt.a", ()),  # a contact that opens is no part of the series
        ("door_1.a and halt.a and always", ()),
        ("never", ()),
    ],
)
def test_only_contacts_in_one_path_are_in_series(a: str, guards: tuple[str, ...]) -> None:
    bench = shape(
        DOORS, (f"k1.channel_a: {A}", f"k1.channel_a: {a}"), (f"k1.channel_b: {B}", "k1.channel_b: halt.b")
    )
    assert tuple(one for found in series_of(bench) for one in found.guards) == guards


def test_doors_at_two_relays_are_two_series_or_none() -> None:
    two = shape(
        DOORS,
        ("  k1: {kind", "  k2: {kind: safety_relay, name: second relay}\n  k1: {kind"),
        (
            f"  k1.channel_a: {A}",
            "  k2.channel_a: door_3.a\n  k2.channel_b: door_3.b\n  k2.reset: reset.pressed\n"
            "  k1.channel_a: door_1.a and door_2.a and halt.a",
        ),
        (f"k1.channel_b: {B}", "k1.channel_b: door_1.b and door_2.b and halt.b"),
    )
    assert [(one.logic, one.guards) for one in series_of(two)] == [("k1", ("door_1", "door_2"))]


def test_wiring_of_very_many_paths_is_rather_called_a_series() -> None:
    """Twelve alternatives of two in a row are 4096 paths: more than anybody wires."""
    wide = " and ".join(["(door_1.a or door_2.a)"] * 12)
    bench = shape(
        DOORS, (f"k1.channel_a: {A}", f"k1.channel_a: {wide}"), (f"k1.channel_b: {B}", "k1.channel_b: halt.b")
    )
    assert [one.guards for one in series_of(bench)] == [("door_1", "door_2")]
