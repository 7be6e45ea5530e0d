"""Tests of the code itself: what it may import, how large it may grow, whether its tests test."""
