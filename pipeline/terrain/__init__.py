"""Heights, grades, side slopes and profiles along the network."""
