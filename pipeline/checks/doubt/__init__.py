"""How sure a demand is, and what the elevation model can carry."""
