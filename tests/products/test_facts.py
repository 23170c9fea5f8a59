"""The facts that the products read."""

from dataclasses import FrozenInstanceError, fields

import pytest

from pipeline.products.facts import Conditions, Relief
from pipeline.terrain.hillshade import Hillshade
from tests.products.worlds import Picture, make_facts


def test_facts_cannot_be_changed() -> None:
    """A product that changed them would change the next one."""
    with pytest.raises(FrozenInstanceError):
        make_facts().site = "elsewhere"  # type: ignore[misc]
    with pytest.raises(FrozenInstanceError):
        Conditions(None, "dry").wetness = "wet"  # type: ignore[misc]


@pytest.mark.parametrize("kind", [Hillshade, Picture])
def test_the_terrain_stage_hands_over_a_relief(kind: type) -> None:
    """What the map asks of a relief is what the terrain stage makes."""
    asked = {name for name in vars(Relief) if not name.startswith("_")}
    assert asked == {"image", "media_type", "west", "south", "east", "north"}
    assert asked <= {field.name for field in fields(kind)}
