"""The vehicle file: what is read, and what is refused with which message."""

import pytest

from pipeline.errors import SettingsError
from pipeline.settings import read_settings_text
from pipeline.terms import Drive
from pipeline.vehicle.model import NORMAL, Source, Suspension, Vehicle
from tests.vehicle.worlds import BOX, EXTRAS, HARD_POINTS, PUBLISHED, box, box_text

HITCH = """
[overhangs.hitch]
points = [[-4.05, 0.30]]
"""


def faults_of(text: str) -> str:
    """Read a faulty vehicle file and give its messages."""
    with pytest.raises(SettingsError) as caught:
        read_settings_text(text, "box.toml", Vehicle)
    return str(caught.value)


def test_whole_file_is_read() -> None:
    """Every table of the file arrives; normal suspension exists without being named."""
    vehicle = read_settings_text(box_text(EXTRAS, HITCH), "box.toml", Vehicle)
    assert vehicle.drive is Drive.FOUR_WHEEL
    assert vehicle.source is Source.MEASURED
    assert vehicle.suspensions == {
        NORMAL: Suspension(lift_m=0.0),
        "raised": Suspension(lift_m=0.05),
        "low": Suspension(lift_m=-0.03),
    }
    assert vehicle.loads["roof"].at_m == (-1.4, 0.0, 1.95)
    assert vehicle.overhangs["hitch"].points == ((-4.05, 0.30),)
    assert vehicle.length_m == pytest.approx(4.8)


def test_published_figures_stand_in_for_hard_points() -> None:
    """All four published figures are enough, and hard points may stand beside them."""
    assert box(PUBLISHED).underbody is None
    assert box(approach_deg=30.0).underbody is not None


def test_normal_may_be_listed_at_zero() -> None:
    """A file may write the normal setting down; it is still one setting."""
    assert list(box("[suspension.normal]\nlift_m = 0.0\n").suspensions) == [NORMAL]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (BOX, "neither hard points"),
        (BOX + PUBLISHED.replace("departure_deg = 24.0\n", ""), "departure_deg missing"),
        (box_text().replace("wheelbase_m = 2.8", "wheelbase_m = 2800"), "millimetres"),
        (box_text().replace("height_m = 1.9\n", "height_m = 190\n"), "centimetres"),
        (box_text().replace("kerb_mass_kg = 2200", "kerb_mass_kg = 2.2"), "from 300"),
        (box_text().replace("front_axle_mass_kg = 1100", "front_axle_mass_kg = 2300"), "105% of kerb_mass_kg"),
        (box_text().replace("cg_height_m = 0.72", "cg_height_m = 1.4"), "above 65% of height_m"),
        (box_text().replace("turning_circle_m = 12.0", "turning_circle_m = 5.5"), "give the diameter"),
        (box_text().replace("width_mirrors_m = 2.1", "width_mirrors_m = 1.8"), "less than width_m"),
        (box_text().replace("track_front_m = 1.6\n", "track_front_m = 2.0\n"), "between tyre centre lines"),
        (box_text().replace("[0.9, 0.45]", "[1.9, 0.45]"), "lies outside the vehicle"),
        (box_text().replace("[0.45, 0.30]", "[0.30, 0.30]"), "inside the front tyre"),
        (box_text().replace("[-3.3, 0.32]", "[-3.1, 0.32]"), "inside the rear tyre"),
        (BOX + "underbody = [[0.9, 0.45], [-1.4, 0.25]]\n", "no hard point behind the rear axle"),
        (BOX + "underbody = [[-1.4, 0.25]]\n", "nor behind"),
        (box_text().replace('"4wd"', '"4x4"'), '"4wd" | "2wd-rear" | "2wd-front"'),
        (box_text().replace('"measured"', '"brochure"'), '"measured" | "maker"'),
        (box_text().replace("low_range = true", 'low_range = "yes"'), "true or false"),
        (box_text().replace("wheelbase_m", "wheel_base_m"), 'did you mean "wheelbase_m"?'),
        (box_text("gvm_kg = 2000\n"), "less than kerb_mass_kg"),
        (box_text("[suspension.normal]\nlift_m = 0.05\n"), "setting of all heights here"),
        (box_text("[suspension.high]\nlift_m = 50\n"), "to 0.4 m"),
        (box_text("[loads.box]\nmass_kg = 50\nat_m = [-1.4, 0.0]\n"), "at_m[3] is missing"),
        (box_text("[loads.box]\nmass_kg = 50\nat_m = [-1.4, 1.5, 1.0]\n"), "at_m y = 1.5 m lies outside"),
        (box_text("[loads.box]\nmass_kg = 50\nat_m = [-7.0, 0.0, 1.0]\n"), "at_m x = -7 m lies outside"),
        (box_text("[loads.box]\nmass_kg = 50\nat_m = [-1.4, 0.0, 2.0]\ntop_m = 1.9\n"), "below its centre of gravity"),
        (box_text("[overhangs.bar]\npoints = [[0.2, 0.3]]\n"), "bar: [0.2, 0.3] lies inside the front tyre"),
        (box_text("[overhangs.bar]\npoints = []\n"), "at least 1"),
        (box_text("[overhangs.bar]\npoints = [[1.0, 0.5]]\nwidth_m = 2.0\n"), "bar: 2 m is more than width_m = 1.9 m"),
        (box_text("mirror_low_m = 1.2\nmirror_high_m = 1.1\n"), "1.1 m is not above mirror_low_m = 1.2 m"),
        (box_text("mirror_low_m = 2.9\n"), "2.9 m is above height_m = "),
        (box_text("mirror_high_m = 2.9\n"), "2.9 m is above height_m = "),
        (box_text("mirror_x_m = 1.4\n"), "1.4 m lies outside the vehicle, from -3.9 to 0.9 m"),
        (box_text("mirror_low_m = 1020\n"), "millimetres"),
        (box_text("roof_width_m = 2.0\n"), "2 m is more than width_m = 1.9 m"),
        (box_text("roof_from_m = 1.9\n"), "1.9 m is not below height_m = 1.9 m"),
        (box_text("roof_front_m = -1.0\nroof_rear_m = -0.9\n"), "-0.9 m is not behind roof_front_m = -1 m"),
        (box_text("[loads.box]\nmass_kg = 50\nat_m = [-1.4, 0.0, 1.0]\nwidth_m = 140\n"), "to 3.2 m"),
    ],
)
def test_faulty_files_are_refused(text: str, said: str) -> None:
    """Wrong units, mixed-up figures, misspelt keys and impossible places each get their message."""
    assert said in faults_of(text)


def test_faults_are_told_together_with_their_lines() -> None:
    """Three faults in one file are three messages, each with its own line."""
    text = (
        box_text()
        .replace("front_axle_mass_kg = 1100", "front_axle_mass_kg = 2300")
        .replace("cg_height_m = 0.72", "cg_height_m = 1.4")
        .replace("[0.9, 0.45]", "[1.9, 0.45]")
    )
    lines = text.splitlines()
    places = [
        next(k for k, line in enumerate(lines, 1) if line.startswith(key))
        for key in ("front_axle_mass_kg", "cg_height_m", "underbody")
    ]
    with pytest.raises(SettingsError) as caught:
        read_settings_text(text, "box.toml", Vehicle)
    assert [fault.place for fault in caught.value.faults] == [str(place) for place in places]


def test_fault_in_one_key_starts_no_others() -> None:
    """A wheelbase in millimetres is one fault; what hangs on it is not complained about."""
    text = (BOX + HARD_POINTS).replace("wheelbase_m = 2.8", "wheelbase_m = 2800")
    assert len(faults_of(text).splitlines()) == 1
