"""Keys and signed reports, made once for all tests of this room."""

from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest
from evidence_material import MADE_AT, demo_sample, sample
from searched import searched_once

from interlock.evidence.document import write_report
from interlock.evidence.keys import ReportSigner, make_demo_signer
from interlock.evidence.sign import Role, sign_report

__all__ = ["searched_once"]  # used by every test


@pytest.fixture(scope="session")
def tess() -> ReportSigner:
    """A demo key in the tester's name."""
    return make_demo_signer("Tess Tester", now=MADE_AT)


@pytest.fixture(scope="session")
def otto() -> ReportSigner:
    """A demo key in the safety officer's name."""
    return make_demo_signer("Otto Officer", now=MADE_AT)


@pytest.fixture(scope="session")
def plain(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An unsigned report that is no demo."""
    return write_report(tmp_path_factory.mktemp("plain") / "report.pdf", sample(), made_at=MADE_AT)


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An unsigned demo report."""
    return write_report(tmp_path_factory.mktemp("demo") / "report.pdf", demo_sample(), made_at=MADE_AT)


@pytest.fixture(scope="session")
def signed_once(demo: Path, tess: ReportSigner) -> Path:
    """The demo report signed by the tester."""
    done = demo.with_name("signed_once.pdf")
    return sign_report(demo, done, tess, reason="tested by me", role=Role.TESTER, now=MADE_AT)


@pytest.fixture(scope="session")
def signed_twice(signed_once: Path, otto: ReportSigner) -> Path:
    """The same, signed by the safety officer an hour later."""
    later = MADE_AT + timedelta(hours=1)
    done = signed_once.with_name("signed_twice.pdf")
    return sign_report(signed_once, done, otto, reason="read by me", role=Role.SAFETY_OFFICER, now=later)


@pytest.fixture
def put(tmp_path: Path) -> Callable[[bytes], Path]:
    """Writes bytes to a file and gives its path."""

    def write(data: bytes) -> Path:
        path = tmp_path / "candidate.pdf"
        path.write_bytes(data)
        return path

    return write
