"""Surface classes, their grip, and the words that lead to them."""

from itertools import pairwise

import pytest

from pipeline.errors import SettingsError
from pipeline.ground.surface import Surfaces, surface_classes, unknown_words
from pipeline.settings import read_settings_text
from pipeline.terms import Wetness
from pipeline.units import KMH
from tests.ground.worlds import surfaces, tagged

TINY = """
default = "hard"
soft_spot = "hard"
[drying]
damp_mm = 1.0
wet_mm = 5.0
soaked_mm = 20.0
open_twi = 2.0
hollow_twi = 5.0
hollow_gathers = 2.5
hollow_drains = 2.0
[runoff]
curve_number = 85.0
hours = 6.0
manning_n = 0.05
bed_grade = 0.02
width_m = 2.0
catchment_ha = 10.0
[classes.hard]
drains_days = 1.0
dries_days = 1.0
bearing_kpa = { dry = [200, 400], damp = [200, 400], wet = [150, 300], soaked = [100, 200] }
dry = { adhesion = [0.6, 0.7, 0.8], rolling = [0.01, 0.02] }
damp = { adhesion = [0.6, 0.7, 0.8], rolling = [0.01, 0.02] }
wet = { adhesion = [0.5, 0.6, 0.7], rolling = [0.01, 0.02] }
soaked = { adhesion = [0.4, 0.5, 0.6], rolling = [0.01, 0.03] }
[surface]
asphalt = "hard"
"""


@pytest.mark.parametrize("value", [0, 1, 2])
def test_shipped_file_orders_surfaces_as_the_sources_do(value: int) -> None:
    """Ice grips less than snow, snow less than wet earth, wet earth less than dry earth (Wong Table 1.3).

    In the typical values strictly; low values of two surfaces may be the same.
    """
    ranked = [("ice", Wetness.DRY), ("snow", Wetness.DRY), ("earth", Wetness.WET), ("earth", Wetness.DRY)]
    grips = [surfaces().classes[name].at(wetness).adhesion[value] for name, wetness in ranked]
    assert grips == sorted(grips)
    assert value != 1 or len(set(grips)) == len(grips)


@pytest.mark.parametrize("name", sorted(surfaces().classes))
def test_wetter_ground_never_grips_better_nor_rolls_easier(name: str) -> None:
    """Every value of every shipped surface, dry to soaked: no limit of grip can rise with rain."""
    states = [surfaces().classes[name].at(wetness) for wetness in Wetness]
    for drier, wetter in pairwise(states):
        assert all(wet <= dry for dry, wet in zip(drier.adhesion, wetter.adhesion, strict=True))
        assert all(wet >= dry for dry, wet in zip(drier.rolling, wetter.rolling, strict=True))


@pytest.mark.parametrize(
    ("name", "wetness", "published"),
    [
        ("asphalt", Wetness.DRY, (0.8, 0.9)),  # Wong, peak
        ("asphalt", Wetness.DRY, (0.75, 0.75)),  # Wong, sliding: from memory, not verified
        ("asphalt", Wetness.WET, (0.5, 0.7)),  # Wong, peak
        ("asphalt", Wetness.WET, (0.45, 0.6)),  # Wong, sliding
        ("asphalt", Wetness.DRY, (0.65, 0.65)),  # Noon
        ("asphalt", Wetness.WET, (0.50, 0.50)),  # Noon
        ("concrete", Wetness.DRY, (0.8, 0.9)),  # Wong, peak
        ("concrete", Wetness.WET, (0.8, 0.8)),  # Wong, peak
        ("concrete", Wetness.WET, (0.7, 0.7)),  # Wong, sliding: from memory, not verified
        ("concrete", Wetness.DRY, (0.75, 0.75)),  # Noon
        ("concrete", Wetness.WET, (0.6, 0.6)),  # Noon
        ("gravel", Wetness.DRY, (0.55, 0.6)),  # Wong, sliding to peak
        ("gravel", Wetness.DRY, (0.35, 0.35)),  # Noon, gravel and dirt road
        ("gravel", Wetness.DRY, (0.6, 0.7)),  # tyre dealer, crushed stone
        ("gravel", Wetness.WET, (0.4, 0.5)),  # tyre dealer, crushed stone
        ("compacted", Wetness.DRY, (0.35, 0.35)),  # Noon, gravel and dirt road
        ("compacted", Wetness.DRY, (0.65, 0.68)),  # Wong, earth road, sliding to peak
        ("earth", Wetness.DRY, (0.65, 0.68)),  # Wong, sliding to peak
        ("earth", Wetness.DRY, (0.35, 0.35)),  # Noon, gravel and dirt road
        ("earth", Wetness.DRY, (0.5, 0.6)),  # tyre dealer
        ("earth", Wetness.DAMP, (0.6, 0.65)),  # Noon, loose moist dirt, tyres 5 cm deep
        ("earth", Wetness.WET, (0.4, 0.55)),  # Wong, sliding to peak
        ("earth", Wetness.WET, (0.15, 0.25)),  # tyre dealer
        ("grass", Wetness.WET, (0.2, 0.2)),  # Noon, wet grassy field
        ("snow", Wetness.DRY, (0.15, 0.2)),  # Wong, sliding to peak
        ("snow", Wetness.DRY, (0.2, 0.25)),  # Noon
        ("snow", Wetness.DRY, (0.25, 0.35)),  # tyre dealer, rolled
        ("ice", Wetness.DRY, (0.07, 0.1)),  # Wong, sliding to peak
        ("ice", Wetness.DRY, (0.1, 0.15)),  # Noon
        ("ice", Wetness.DRY, (0.05, 0.15)),  # tyre dealer
    ],
)
def test_published_adhesion_lies_inside_the_spread(name: str, wetness: Wetness, published: tuple[float, float]) -> None:
    """Every spread spans what the named sources publish for that surface, and every sliding value with it.

    Wong's gravel, 0.6 and sliding 0.55, has no wetness and is taken as dry: the tyre dealer has 0.4–0.5 for wet.
    """
    low, _, high = surfaces().classes[name].at(wetness).adhesion
    assert low <= published[0] <= published[1] <= high


@pytest.mark.parametrize(
    ("name", "wetness", "published"),
    [
        ("asphalt", Wetness.DRY, (0.008, 0.013)),  # Moyer, hard road; Bosch, asphalt and concrete
        ("concrete", Wetness.DRY, (0.008, 0.013)),  # the same
        ("gravel", Wetness.DRY, (0.012, 0.02)),  # Moyer, firm packed; Bosch, rolled
        ("gravel", Wetness.WET, (0.06, 0.06)),  # Moyer, wet loose
        ("compacted", Wetness.DRY, (0.02, 0.05)),  # Bosch, rolled gravel to unpaved road
        ("earth", Wetness.DRY, (0.05, 0.05)),  # Bosch, unpaved road
        ("mud", Wetness.WET, (0.10, 0.35)),  # Bosch, field
        ("sand", Wetness.DRY, (0.10, 0.35)),  # from memory, not verified
    ],
)
def test_published_rolling_resistance_lies_inside_the_spread(
    name: str, wetness: Wetness, published: tuple[float, float]
) -> None:
    """Moyer in Marks' handbook, and a handbook-like set after Bosch."""
    low, high = surfaces().classes[name].at(wetness).rolling
    assert low <= published[0] <= published[1] <= high


@pytest.mark.parametrize("kmh", [3.0, 10.0])
def test_road_formula_of_rolling_resistance_lies_inside_the_spread(kmh: float) -> None:
    """0.01·(1 + V/44.73), V in m/s, for roads (Fundamentals of Transportation, section 7.2)."""
    low, high = surfaces().classes["asphalt"].at(Wetness.DRY).rolling
    assert low <= 0.01 * (1.0 + kmh * KMH / 44.73) <= high


def test_word_then_firmness_then_evenness_then_default() -> None:
    """The surface word counts first; only evenness and nothing at all make the class an assumption."""
    network = tagged(
        ("asphalt", "grade5", "horrible"),
        (None, "grade5", "excellent"),
        (None, None, "excellent"),
        (None, None, None),
        ("lava", None, None),
        ("lava", "grade2", None),
    )
    names, assumed = surface_classes(network, surfaces())
    assert names == [("asphalt",), ("mud",), ("compacted",), ("earth",), ("earth",), ("gravel",)]
    assert assumed == [False, False, True, True, True, False]


def test_list_of_words_is_all_their_classes() -> None:
    """Whatever the order, case and blanks; a word twice is one class, an unknown one none."""
    words = ("gravel;mud", "Mud ; Fine Gravel", "gravel;lava", "gravel;fine_gravel")
    names, _ = surface_classes(tagged(*((one, None, None) for one in words)), surfaces())
    assert names == [("gravel", "mud"), ("mud", "gravel"), ("gravel",), ("gravel",)]


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("wet = { adhesion = [0.5, 0.6, 0.7]", "wet = { adhesion = [0.5, 0.75, 0.78]", "may not grip better"),
        ("dry = { adhesion = [0.6, 0.7, 0.8]", "dry = { adhesion = [0.6, 0.9, 0.8]", "ascending order"),
        (
            "soaked = { adhesion = [0.4, 0.5, 0.6], rolling = [0.01, 0.03]",
            "soaked = { adhesion = [0.4, 0.5, 0.6], rolling = [0.04, 0.03]",
            "ascending order",
        ),
        ('asphalt = "hard"', 'asphalt = "hrad"', 'did you mean "hard"?'),
        ('default = "hard"', 'default = "soft"', '"soft" is no surface class'),
        ("dry = { adhesion = [0.6, 0.7, 0.8]", "dry = { adhesion = [60, 70, 80]", "to 1.5"),
        ("dry = { adhesion = [0.6, 0.7, 0.8]", "dry = { adhesion = [0.6, 0.8]", "adhesion[3] is missing"),
        ("wet = [150, 300]", "wet = [150, 500]", "may not bear more"),
        ("wet = [150, 300]", "wet = [300, 150]", "ascending order"),
        ("wet = [150, 300]", "wet = [0.15, 0.3]", "5 to 10000"),
        ("drains_days = 1.0", "drains_days = 0.0", "0.02 to 365"),
        ('soft_spot = "hard"', 'soft_spot = "bog"', '"bog" is no surface class'),
        ("hollow_twi = 5.0", "hollow_twi = 2.0", "is not above open_twi = 2"),
    ],
)
def test_faulty_surfaces_are_refused(old: str, new: str, said: str) -> None:
    """Grip that rises with wet, mixed-up spreads, per cent for fractions and unknown classes are faults."""
    read_settings_text(TINY, "surfaces.toml", Surfaces)
    assert old in TINY
    with pytest.raises(SettingsError, match=r"surfaces\.toml") as caught:
        read_settings_text(TINY.replace(old, new), "surfaces.toml", Surfaces)
    assert said in str(caught.value)


def test_words_without_a_class_are_counted() -> None:
    """Each word once a segment, as it leads nowhere; words that lead to a class and missing ones are not counted."""
    network = tagged(
        ("marshmallow;gravel", None, None), ("Marshmallow", None, None), ("gravel", None, None), (None, None, None)
    )
    assert unknown_words(network, surfaces()) == {"marshmallow": 2}
