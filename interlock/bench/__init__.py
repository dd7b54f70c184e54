"""The bench description: what is built, what is required, and how it shows in a log."""

from interlock.bench.kind import Kind, Transition
from interlock.bench.load import (
    Parsed,
    bench_fingerprint,
    bench_schema,
    builtin_kinds,
    dbc_path,
    kinds_of,
    load_bench,
    parse_bench,
    parse_far,
    read_far,
)
from interlock.bench.log_messages import described_messages, message_files
from interlock.bench.models import Bench
from interlock.bench.required_models import Function, Required
from interlock.bench.shows_models import Shows

__all__ = [
    "Bench",
    "Function",
    "Kind",
    "Parsed",
    "Required",
    "Shows",
    "Transition",
    "bench_fingerprint",
    "bench_schema",
    "builtin_kinds",
    "dbc_path",
    "described_messages",
    "kinds_of",
    "load_bench",
    "message_files",
    "parse_bench",
    "parse_far",
    "read_far",
]
