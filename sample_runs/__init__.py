"""Complete sealed runs of invented jobs."""
