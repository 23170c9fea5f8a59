"""What is carried over from the old file stands in the new one as it was."""

import tomllib

from pipeline.vehicle.model import Vehicle
from pipeline.vehicle.sheet_carry import carried, plain
from tests.vehicle.worlds import EXTRAS, box, box_text

ODD = """
[suspension."a.b"]
lift_m = -0.05
[loads."quote\\" back\\\\ del\\u007f nul\\u0000 é"]
mass_kg = 75
at_m = [-1.4, 0.0, 1.95]
people = true
width_m = 1.25
[overhangs.""]
points = [[0.95, 0.44], [-3.95, 0.40]]
width_m = 0.1
"""


def test_tables_are_read_back_as_they_were() -> None:
    """Each table is TOML that means the same, whatever its name."""
    for tables in (EXTRAS, ODD):
        old = box(tables)
        text = box_text() + "\n".join(one.toml for one in carried(old))
        assert Vehicle.model_validate(tomllib.loads(text), strict=False) == old


def test_labels_are_for_people() -> None:
    """Kind, name, and the figures to check; signs as typeset."""
    labels = [one.label for one in carried(box(EXTRAS))]
    assert labels == [
        "suspension raised: +50 mm",
        "suspension low: −30 mm",
        "load roof: 75 kg at x −1400, y 0, z 1950 mm",
        "load passenger: 80 kg at x −1400, y 350, z 950 mm",
        "load tank: 100 kg at x −3200, y 0, z 800 mm",
    ]


def test_places_go_along_for_the_checks() -> None:
    """A load has its place, a fitted thing its points, a suspension neither."""
    suspension, load, overhang = carried(box(ODD))
    assert (suspension.at_m, suspension.points) == (None, ())
    assert load.at_m == (-1.4, 0.0, 1.95)
    assert (suspension.load, overhang.load) == (None, None)
    assert load.load == next(iter(box(ODD).loads))
    assert overhang.plain()["points"] == ((0.95, 0.44), (-3.95, 0.40))


def test_plain_shows_what_can_be_shown() -> None:
    """Control characters are marked, white space is one blank."""
    assert plain("a\x00b \t\n c\x7f") == "a\ufffdb c\ufffd"
