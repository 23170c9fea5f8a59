"""Ways past things that lie in the way, and what of them is laid into the ground."""
