"""Counted fuzzing of every parser and file reader; the full run is `tests.benchmarks.fuzzing`."""
