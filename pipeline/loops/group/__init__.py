"""Mixed groups: who goes round what, who waits, in which order they drive."""
