"""Asked about loops: why a segment is not used, and what would give a loop where there is none."""
