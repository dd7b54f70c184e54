"""The store of past tests of one bench or more: hash-chained, with counts, replacements and changes.

What it holds is read back whole or refused; due dates, drift and counts for the rating come from it.
"""

from interlock.register.book import Register, read_register
from interlock.register.entries import (
    BenchName,
    Changed,
    Entry,
    Operations,
    Person,
    ProofTest,
    Replaced,
    Withdrawn,
    register_schema,
)
from interlock.register.file import append, create, load_register

__all__ = [
    "BenchName",
    "Changed",
    "Entry",
    "Operations",
    "Person",
    "ProofTest",
    "Register",
    "Replaced",
    "Withdrawn",
    "append",
    "create",
    "load_register",
    "read_register",
    "register_schema",
]
