"""A test rig in software: physics, sensors with faults, and the wires real instruments use."""
