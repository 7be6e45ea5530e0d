"""A test rig in software: physics, sensors with their faults, and the wires real instruments use."""
