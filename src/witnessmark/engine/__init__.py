"""The engine: what is known of it, every number with its source, and its physical state."""
