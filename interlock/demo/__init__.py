"""The built-in scenario: a bench of our own, and the walk through the whole job on it."""

from interlock.demo.station import Station
from interlock.demo.walk import BENCH_FILE, walk

__all__ = ["BENCH_FILE", "Station", "walk"]
