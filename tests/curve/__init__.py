"""Tests of the output curve."""
