"""How the time of a loop goes: the order inside it, stops, ways out, the session's plan."""
