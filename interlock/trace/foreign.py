"""Files that people take for logs, of formats that nobody here reads: told by name, with the way out of them."""

from pathlib import Path
from typing import Final

from interlock.errors import LogError

__all__ = ["BOM", "refuse_foreign"]

BOM: Final = b"\xef\xbb\xbf"
"""What editors may put before a text in UTF-8: it says nothing."""

_CANDUMP: Final = "convert it to a candump or BLF log (python-can's can_logconvert does)"
_UNPACK: Final = "unpack it, or pack the log once with gzip"
_PLAIN: Final = "save it as plain text (ASCII or UTF-8)"
_BEGINNINGS: Final = (
    (
        b"SQLite format 3\0",
        "an SQLite database, as python-can's SqliteWriter makes, which lacks the last frames if it stopped at once",
        _CANDUMP,
    ),
    (
        b"Time Stamp,ID,Extended,",
        "a GVRET table, whose stamps count microseconds of the adapter's own clock and may start anew",
        "record with a candump, ASC or BLF logger instead",
    ),
    (b"MDF     2", "an MDF file of version 2", "convert it to MF4 (asammdf does)"),
    (b"MDF     3", "an MDF file of version 3", "convert it to MF4 (asammdf does)"),
    (b"\x89HDF", "an HDF5 file", "export the signals as CSV"),
    (b"MATLAB 5.0", "a MAT-file", "export the signals as CSV"),
    (b"\x0a\x0d\x0d\x0a", "a pcapng capture", "convert it to candump text"),
    (b"\xd4\xc3\xb2\xa1", "a pcap capture", "convert it to candump text"),
    (b"\xa1\xb2\xc3\xd4", "a pcap capture", "convert it to candump text"),
    (b"PAR1", "a Parquet file", "export the signals as CSV"),
    (b"\x1f\x8b\x08", "a file that was packed twice", _UNPACK),
    (b"BZh", "a file packed with bzip2", _UNPACK),
    (b"\xfd7zXZ\0", "a file packed with xz", _UNPACK),
    (b"\x28\xb5\x2f\xfd", "a file packed with zstd", _UNPACK),
    (b"7z\xbc\xaf\x27\x1c", "a 7z archive", _UNPACK),
    (b"Rar!\x1a\x07", "a RAR archive", _UNPACK),
    (b"\xff\xfe", "text in UTF-16, as a shell of Windows may write it", _PLAIN),
    (b"\xfe\xff", "text in UTF-16", _PLAIN),
    (b"<!DOCTYPE", "a web page", "give the log itself"),
    (b"<html", "a web page", "give the log itself"),
    (b"%PDF-", "a PDF document", "give the log that it was made from"),
)


def refuse_foreign(path: Path, content: bytes) -> None:
    """Raises LogError if the content, unpacked if it was packed, begins as one of those formats does."""
    begins = content[:64].removeprefix(BOM)
    for mark, what, instead in _BEGINNINGS:
        if begins.startswith(mark):
            raise LogError(f"{path}: this is {what}; it is not read here: {instead}")
