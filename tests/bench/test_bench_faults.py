"""Faults of kinds and exclusions of benches: each mistake is one error at its place; sound ones are accepted."""

import json

import pytest
from bench_sample import sample_text

from interlock.bench import bench_schema, builtin_kinds, load_bench, parse_bench
from interlock.bench.wire_faults import WIRE, all_faults, faults_of_device
from interlock.errors import BenchError
