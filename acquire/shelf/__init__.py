"""The shelf: the searchable collection of runs.

The index is a cache in a database; the run folders stay the truth, and the index can be made
from them again at any time.
"""
