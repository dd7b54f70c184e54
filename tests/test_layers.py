"""Rooms import only from rooms above them, know nothing of what they need not know, and never transmit.

The order and the column "knows nothing of" are those of the project's design.
"""

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "interlock"
TOP = "top"  # errors.py, verdict.py, interval.py and the other modules beside them

ROOMS = [
    TOP,
    "bench",
    "chain",
    "trace",
    "timing",
    "replay",
    "look",  # reads logs and drafts a bench description
    "rating",
    "procedure",
    "bus",
    "register",
    "evidence",
    "twin",
    "demo",
    "web",
    "cli",
]

BLIND = {
    "bench": {"chain", "trace"},
    "chain": {"trace"},
    "trace": {"chain"},
    "timing": {"chain"},
    "replay": {"evidence"},
    "rating": {"trace"},
    "procedure": {"web", "cli"},
    "bus": {"web", "cli"},
    "evidence": {"web", "cli"},
    "twin": {"trace", "timing", "replay", "rating", "procedure", "bus", "register", "evidence"},
}
"""What a room may not import although it stands below it; the twin: nothing that judges what it makes."""

SENDS = {"send", "send_periodic"}
NO_BUS = {"evidence/sign.py": "hands values to a generator of the signing library"}

MODULES = sorted(PACKAGE.rglob("*.py"))
PRESENT = [room for room in ROOMS if room == TOP or (PACKAGE / room).is_dir()]


def room_of(module: Path) -> str:
    parts = module.relative_to(PACKAGE).parts
    return parts[0] if len(parts) > 1 else TOP


def tree(module: Path) -> ast.Module:
    return ast.parse(module.read_text(encoding="utf-8"), str(module))


def package_of(module: Path) -> list[str]:
    """The dotted package in which relative imports of the module begin."""
    return ["interlock", *module.relative_to(PACKAGE).parts[:-1]]


def imported(module: Path) -> set[str]:
    """Every dotted name that the module imports, at its top or inside functions, relative ones resolved."""
    found: set[str] = set()
    for node in ast.walk(tree(module)):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            base = package_of(module)[: len(package_of(module)) + 1 - node.level] if node.level else []
            start = ".".join([*base, *([node.module] if node.module else [])])
            found |= {f"{start}.{alias.name}" for alias in node.names}
    return found


def rooms_imported(module: Path) -> set[str]:
    """The rooms of this package that the module imports."""
    parts = [name.split(".") for name in imported(module) if name.split(".")[0] == "interlock"]
    names = {part[1] if len(part) > 1 else "" for part in parts}
    return {name if (PACKAGE / name).is_dir() and name else TOP for name in names}


def test_every_folder_of_the_package_is_a_room() -> None:
    folders = {room_of(module) for module in MODULES}
    assert folders <= set(ROOMS)


@pytest.mark.parametrize("room", PRESENT)
def test_imports_only_rooms_above(room: str) -> None:
    allowed = set(ROOMS[: ROOMS.index(room) + 1])
    wrong = {
        f"{module.relative_to(PACKAGE)} imports {other}"
        for module in MODULES
        if room_of(module) == room
        for other in rooms_imported(module) - allowed
    }
    assert wrong == set()


@pytest.mark.parametrize("room", [room for room in PRESENT if room in BLIND])
def test_knows_nothing_of(room: str) -> None:
    wrong = {
        f"{module.relative_to(PACKAGE)} imports {other}"
        for module in MODULES
        if room_of(module) == room
        for other in rooms_imported(module) & BLIND[room]
    }
    assert wrong == set()


@pytest.mark.parametrize(
    "module", [module for module in MODULES if room_of(module) not in {"twin", "demo"}], ids=str
)
def test_nothing_but_the_twin_sends(module: Path) -> None:
    called = {node.attr for node in ast.walk(tree(module)) if isinstance(node, ast.Attribute)} & SENDS
    if module.relative_to(PACKAGE).as_posix() in NO_BUS:
        assert not {name for name in imported(module) if name.split(".")[0] in {"can", "socket"}}
        return
    assert called == set()


def test_the_exceptions_still_exist() -> None:
    if (PACKAGE / "evidence").is_dir():
        assert all((PACKAGE / name).is_file() for name in NO_BUS)


def test_nothing_imports_the_tests() -> None:
    for module in MODULES:
        assert not {
            name for name in imported(module) if name.split(".")[0] in {"tests", "pytest", "hypothesis"}
        }, module


# ---- the test can fail -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "rooms"),
    [
        ("import interlock.chain.explore", {"chain"}),
        ("from interlock.chain import check", {"chain"}),
        ("from interlock import chain", {"chain"}),
        ("from interlock import __version__", {TOP}),
        ("from interlock.errors import BenchError", {TOP}),
        ("from .load import load_bench", {"bench"}),
        ("from ..chain import check", {"chain"}),
        ("from .. import chain", {"chain"}),
        ("def f():\n    from interlock.web import page", {"web"}),
        ("import interlocking, can", set()),
        ("if TYPE_CHECKING:\n    import interlock.cli", {"cli"}),
    ],
)
def test_every_way_of_importing_is_seen(text: str, rooms: set[str], monkeypatch: pytest.MonkeyPatch) -> None:
    module = PACKAGE / "bench" / "imagined.py"
    monkeypatch.setattr(Path, "read_text", lambda *_, **__: text)
    monkeypatch.setattr(Path, "is_dir", lambda path: path.name in ROOMS)
    assert rooms_imported(module) == rooms
