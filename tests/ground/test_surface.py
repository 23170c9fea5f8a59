"""Surface classes, their grip, and the words that lead to them."""

import numpy as np
import pandas as pd
import pytest

from pipeline.errors import SettingsError
from pipeline.ground.surface import Surfaces, ground_state, surface_classes, unknown_words
from pipeline.settings import read_settings_text
from pipeline.terms import Wetness
from tests.ground.worlds import surfaces, tagged

TINY = """
default = "hard"
[drying]
keep_per_day = 0.9
damp_mm = 1.0
wet_mm = 5.0
soaked_mm = 20.0
[classes.hard]
dry = { adhesion = [0.6, 0.7, 0.8], rolling = [0.01, 0.02] }
damp = { adhesion = [0.6, 0.7, 0.8], rolling = [0.01, 0.02] }
wet = { adhesion = [0.5, 0.6, 0.7], rolling = [0.01, 0.02] }
soaked = { adhesion = [0.4, 0.5, 0.6], rolling = [0.01, 0.03] }
[surface]
asphalt = "hard"
"""


def test_shipped_file_orders_surfaces_as_the_sources_do() -> None:
    """Ice grips less than snow, snow less than wet earth, wet earth less than dry earth (Wong Table 1.3)."""
    classes = surfaces().classes
    typical = [
        classes["ice"].at(Wetness.DRY).adhesion[1],
        classes["snow"].at(Wetness.DRY).adhesion[1],
        classes["earth"].at(Wetness.WET).adhesion[1],
        classes["earth"].at(Wetness.DRY).adhesion[1],
        classes["asphalt"].at(Wetness.DRY).adhesion[1],
    ]
    assert typical == sorted(typical)
    assert len(set(typical)) == len(typical)


@pytest.mark.parametrize(
    ("name", "wetness", "published"),
    [
        ("asphalt", Wetness.DRY, (0.8, 0.9)),  # Wong, peak
        ("asphalt", Wetness.WET, (0.5, 0.7)),  # Wong, peak
        ("asphalt", Wetness.DRY, (0.65, 0.65)),  # Noon
        ("asphalt", Wetness.WET, (0.50, 0.50)),  # Noon
        ("concrete", Wetness.WET, (0.8, 0.8)),  # Wong, peak
        ("concrete", Wetness.WET, (0.6, 0.6)),  # Noon
        ("gravel", Wetness.DRY, (0.55, 0.6)),  # Wong, sliding to peak
        ("gravel", Wetness.DRY, (0.35, 0.35)),  # Noon, gravel and dirt road
        ("earth", Wetness.DRY, (0.65, 0.68)),  # Wong
        ("earth", Wetness.WET, (0.4, 0.55)),  # Wong
        ("earth", Wetness.WET, (0.15, 0.25)),  # tyre dealer
        ("grass", Wetness.WET, (0.2, 0.2)),  # Noon, wet grassy field
        ("snow", Wetness.DRY, (0.15, 0.25)),  # Wong, Noon
        ("ice", Wetness.DRY, (0.07, 0.15)),  # Wong, Noon
    ],
)
def test_published_adhesion_lies_inside_the_spread(name: str, wetness: Wetness, published: tuple[float, float]) -> None:
    """Every spread spans what the named sources publish for that surface."""
    low, _, high = surfaces().classes[name].at(wetness).adhesion
    assert low <= published[0]
    assert published[1] <= high


def test_published_rolling_resistance_lies_inside_the_spread() -> None:
    """Hard road 0.008, packed gravel 0.012, wet loose gravel 0.06 (Moyer, in Marks' handbook)."""
    classes = surfaces().classes
    assert classes["asphalt"].at(Wetness.DRY).rolling[0] == 0.008
    assert classes["gravel"].at(Wetness.DRY).rolling[0] == 0.012
    assert classes["gravel"].at(Wetness.WET).rolling[1] == 0.06


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
    names, assumed = surface_classes(network, surfaces(), Wetness.DRY)
    assert names == ["asphalt", "mud", "compacted", "earth", "earth", "gravel"]
    assert assumed == [False, False, True, True, True, False]


def test_list_of_words_takes_the_least_grip() -> None:
    """Gravel and mud in one tag are mud when wet, whatever the order, case and blanks."""
    network = tagged(("gravel;mud", None, None), ("Mud ; Fine Gravel", None, None), ("gravel;lava", None, None))
    names, _ = surface_classes(network, surfaces(), Wetness.WET)
    assert names == ["mud", "mud", "gravel"]


def test_ground_state_is_parallel_to_the_segments() -> None:
    """Arrays carry the class's own figures, in the order of the segments; rolling is the high value."""
    state = ground_state(tagged(("grass", None, None), ("asphalt", None, None)), surfaces(), Wetness.WET)
    grass, asphalt = (surfaces().classes[name].wet for name in ("grass", "asphalt"))
    assert state.surface == ("grass", "asphalt")
    assert state.wetness is Wetness.WET
    np.testing.assert_array_equal(state.mu_low, [grass.adhesion[0], asphalt.adhesion[0]])
    np.testing.assert_array_equal(state.mu_typical, [grass.adhesion[1], asphalt.adhesion[1]])
    np.testing.assert_array_equal(state.mu_high, [grass.adhesion[2], asphalt.adhesion[2]])
    np.testing.assert_array_equal(state.rolling, [grass.rolling[1], asphalt.rolling[1]])
    assert state.assumed.dtype == np.bool_


def test_ground_state_of_no_segments_is_empty() -> None:
    """A network without segments gives empty arrays, not an error."""
    state = ground_state(tagged(), surfaces(), Wetness.DRY)
    assert state.surface == ()
    assert state.mu_low.shape == state.rolling.shape == state.assumed.shape == (0,)


def test_network_is_not_changed() -> None:
    """The stage leaves its argument as it was."""
    network = tagged((None, None, None), ("mud", None, None))
    before = network.segments.copy(deep=True)
    ground_state(network, surfaces(), Wetness.SOAKED)
    pd.testing.assert_frame_equal(network.segments, before)


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
