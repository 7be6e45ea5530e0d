"""The commands: thin callers of the floors below."""
