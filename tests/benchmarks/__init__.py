"""Benchmarks: run by hand, not by the test suite."""
