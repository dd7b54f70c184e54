"""The sample logs, unpacked once."""

import gzip
import shutil
from pathlib import Path

import pytest

SAMPLES = Path(__file__).parent.parent / "data" / "samples"


@pytest.fixture(scope="session")
def samples(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with sound.blf, slow.asc and refs_kept.log as they were recorded."""
    folder = tmp_path_factory.mktemp("samples")
    shutil.copy(SAMPLES / "sound.blf", folder)
    for name in ("slow.asc", "refs_kept.log"):
        (folder / name).write_bytes(gzip.decompress((SAMPLES / f"{name}.gz").read_bytes()))
    return folder
