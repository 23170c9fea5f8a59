"""Water on the trail: how deep and fast it is now, and the bed that it runs in."""
