"""Tests of settling and prediction."""
