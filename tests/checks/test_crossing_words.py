"""Places where water crosses, in sentences."""

import math

import pytest

from pipeline.checks.crossing_words import Place, Shown, Surveyed, Wet, reason_of

PATH = Place(40.0, 42.0, False, 34_400.0, False, 0.0, 0.0)
POOL = Place(140.0, 181.0, True, 128_000.0, False, 1.432, 0.0)
FORD = Surveyed("o7", "water Pebble Ford", 6.3, 0.15)
NOBODY = Wet(PATH, None, tagged=False, tag_depth_m=math.nan, walked=False, modelled=True)
NAN = math.nan


@pytest.mark.parametrize(
    ("wet", "kind", "depth", "sentence"),
    [
        (
            NOBODY,
            Shown.FLOW_PATH,
            NAN,
            "a flow path of 3.4 ha crosses the trail; nobody has surveyed the trail there",
        ),
        (
            NOBODY._replace(walked=True, place=PATH._replace(least=True, catchment_m2=340_000.0)),
            Shown.FLOW_PATH,
            NAN,
            "a flow path of at least 34 ha crosses the trail; no water was surveyed there",
        ),
        (
            NOBODY._replace(water=FORD),
            Shown.FLOW_PATH,
            0.15,
            (
                "a flow path of 3.4 ha crosses the trail; "
                "surveyed 6 m along the trail from there as water Pebble Ford, 0.15 m deep"
            ),
        ),
        (
            NOBODY._replace(water=FORD._replace(depth_m=NAN), tagged=True, tag_depth_m=0.3),
            Shown.FLOW_PATH,
            0.3,
            (
                "a flow path of 3.4 ha crosses the trail; "
                "surveyed 6 m along the trail from there as water Pebble Ford, 0.30 m deep by the tag of the segment"
            ),
        ),
        (
            NOBODY._replace(water=FORD._replace(depth_m=NAN), tag_depth_m=0.3),
            Shown.FLOW_PATH,
            NAN,
            (
                "a flow path of 3.4 ha crosses the trail; "
                "surveyed 6 m along the trail from there as water Pebble Ford, of unknown depth"
            ),
        ),
        (
            NOBODY._replace(tagged=True, tag_depth_m=0.4),
            Shown.FLOW_PATH,
            0.4,
            "a flow path of 3.4 ha crosses the trail; the segment is tagged as a ford, 0.40 m deep",
        ),
        (
            NOBODY._replace(place=PATH._replace(from_m=10.0, to_m=60.0)),
            Shown.FLOW_PATH,
            NAN,
            (
                "a flow path of 3.4 ha runs along the trail from 10 to 60 m and over it; "
                "nobody has surveyed the trail there"
            ),
        ),
        (
            NOBODY._replace(place=PATH._replace(dammed_m=1.618)),
            Shown.FLOW_PATH,
            NAN,
            (
                "a flow path of 3.4 ha crosses the trail; nobody has surveyed the trail there; "
                "the model lets it stand 1.62 m deep behind the trail before it runs over: a culvert, "
                "which the model cannot show, would take it elsewhere"
            ),
        ),
        (
            NOBODY._replace(place=PATH._replace(dammed_m=1.618), water=FORD),
            Shown.FLOW_PATH,
            0.15,
            (
                "a flow path of 3.4 ha crosses the trail; "
                "surveyed 6 m along the trail from there as water Pebble Ford, 0.15 m deep"
            ),
        ),
        (
            NOBODY._replace(place=POOL, walked=True),
            Shown.HOLLOW,
            NAN,
            (
                "the trail lies up to 1.43 m below the rim of a hollow from 140 to 181 m, into which 13 ha drain; "
                "no water was surveyed there; water stands there after rain unless a drain or a culvert, "
                "which the model cannot show, takes it away"
            ),
        ),
        (
            NOBODY._replace(place=None, water=FORD),
            Shown.SURVEYED_ONLY,
            0.15,
            "surveyed as water Pebble Ford, 0.15 m deep; the elevation model shows no flow path and no hollow there",
        ),
        (
            NOBODY._replace(place=None, tagged=True, modelled=False),
            Shown.SURVEYED_ONLY,
            NAN,
            (
                "the segment is tagged as a ford, nobody says where along it, of unknown depth; "
                "no elevation model has heights there"
            ),
        ),
    ],
)
def test_what_is_shown_known_and_open(wet: Wet, kind: Shown, depth: float, sentence: str) -> None:
    """What the model shows, what was surveyed or tagged, what the model cannot show; nothing twice."""
    assert reason_of(wet) == sentence
    assert wet.kind is kind
    assert wet.depth_m == pytest.approx(depth, nan_ok=True)


def test_small_areas_keep_two_figures() -> None:
    """0.05 ha is no 0 ha."""
    assert "0.052 ha" in reason_of(NOBODY._replace(place=PATH._replace(catchment_m2=519.0)))
