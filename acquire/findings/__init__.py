"""From a run to what is wrong with the unit, the rig or the readings, each with its evidence."""
