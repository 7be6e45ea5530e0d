"""Will a unit serve an engine: pulleys, amps at the engine's speeds, belt, hours of charging."""
