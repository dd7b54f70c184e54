"""Whatever bytes a file holds: a reading whose ledger adds up, or one clear error; never a traceback, never a hang."""

from pathlib import Path

import pytest
from fuzz.fuzz_cases import PLANS, SEEDS, TABLE, changed, held
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from interlock.trace import CsvColumns, LogFile

CHANGES = st.lists(
    st.tuples(st.integers(0, 1 << 20), st.integers(0, 40), st.binary(max_size=40)), min_size=1, max_size=4
)
RARELY = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


@pytest.mark.parametrize("name", SEEDS)
@RARELY
@given(changes=CHANGES)
def test_damaged_files(tmp_path: Path, name: str, changes: list[tuple[int, int, bytes]]) -> None:
    path = tmp_path / name
    path.write_bytes(changed(SEEDS[name], changes))
    held(LogFile(path))


@pytest.mark.parametrize("plan", PLANS)
@RARELY
@given(changes=CHANGES)
def test_damaged_tables(tmp_path: Path, plan: CsvColumns, changes: list[tuple[int, int, bytes]]) -> None:
    path = tmp_path / "scope.csv"
    path.write_bytes(changed(TABLE, changes))
    held(LogFile(path, columns=plan))


@pytest.mark.parametrize("suffix", [".log", ".asc", ".csv", ".trc", ".blf", ".vcd", ".sr", ".gz"])
@RARELY
@given(content=st.binary(max_size=300))
def test_any_bytes(tmp_path: Path, suffix: str, content: bytes) -> None:
    path = tmp_path / f"any{suffix}"
    path.write_bytes(content)
    held(LogFile(path))
