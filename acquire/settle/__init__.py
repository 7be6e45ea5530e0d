"""When a reading has settled, or is known well enough before: pure, deterministic, no I/O."""
