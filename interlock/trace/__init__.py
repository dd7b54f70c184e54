"""Logged data: one reader a format, signals by DBC or EDS, and every doubt about them written down.

What is seen: every line or object ends as a frame, as a known non-frame or as a finding with its place; a lost piece
blinds all messages from the frame before it to the frame after it. Frames that vanish without trace, stand still or
come out of order are seen by gaps, alive counters, frozen noise and the order of the stamps.

Signals that a recorder had decoded (tables of samples, value change dumps, logic captures, MF4 channels) come the same
way: one message a source, one row an instant. Several files of one `load` must share a clock; files that cover the
same time without that are put in doubt, and `interlock.replay.gathered` joins sources whose clocks are stated or found.

What cannot be seen, because the formats carry no checksum (only packed files and packed BLF containers do), unless the
message itself bears one that the bench names (AUTOSAR E2E): a changed character that leaves a line of text of the same
form, be it in a value, in an identifier or in a stamp that stays between its neighbours; lost frames within the gap
that the bench allows; a text file cut exactly at a line end, whose trace is simply shorter.
"""

from interlock.trace.expected import Expected
from interlock.trace.inputs import CsvColumns, LogFile
from interlock.trace.layout import MessageLayout, SignalLayout, load_dbc
from interlock.trace.load import load
from interlock.trace.model import Quality, QualityKind, Samples, Source, Trace
from interlock.trace.readers import FORMATS

__all__ = [
    "FORMATS",
    "CsvColumns",
    "Expected",
    "LogFile",
    "MessageLayout",
    "Quality",
    "QualityKind",
    "Samples",
    "SignalLayout",
    "Source",
    "Trace",
    "load",
    "load_dbc",
]
