"""Which driving skills a segment exercises, and what to do before it."""
