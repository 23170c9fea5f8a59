"""The techniques file: what is shipped, and what is refused."""

import pytest

from pipeline.checks.obstacles import IN_PROFILE
from pipeline.errors import SettingsError
from pipeline.settings import read_settings_text
from pipeline.technique.settings import Techniques, thing_key
from pipeline.terms import ObstacleKind, Technique
from tests.technique.worlds import SETTINGS_FILE, techniques

SHIPPED = SETTINGS_FILE.read_text(encoding="utf-8")


def test_every_technique_is_exercised_by_something() -> None:
    """Each word of the vocabulary is reached by a stretch or a thing."""
    settings = techniques()
    stretches = {key for key in settings.advice() if not key.startswith("thing ")}
    things = {thing.technique for thing in settings.things.values()}
    assert stretches | things == set(Technique)


def test_every_advice_names_where_it_comes_from() -> None:
    """A source or "no source" stands with every text; advice is one line of a sheet."""
    for advice in techniques().advice().values():
        assert advice.source
        assert len(advice.before) <= 300


def test_sides_are_named_only_where_there_are_sides() -> None:
    """Only side slopes and turns speak of left and right."""
    sided = {key for key, advice in techniques().advice().items() if "{side}" in advice.coming + advice.before}
    assert sided == {Technique.SIDE_SLOPE, Technique.TIGHT_TURN}


def test_what_is_worked_out_has_something_said_besides() -> None:
    """Every kind whose way or line past is worked out, and no other; the texts of the ways fit on the line with it."""
    kinds = {kind for kind, thing in techniques().things.items() if thing.besides}
    assert kinds == {*IN_PROFILE, ObstacleKind.GAP, ObstacleKind.BRANCH}
    assert max(len(text) for text in techniques().passings.model_dump().values()) <= 40


def test_keys_of_things() -> None:
    """A kind of obstacle has a key of its own, apart from a technique of the same name."""
    assert thing_key(ObstacleKind.ROCK) == "thing rock"
    assert {thing_key(kind) for kind in techniques().things} <= set(techniques().advice())


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("full_deg = 25.0      # 47 %", "full_deg = 9.0       # 47 %", "9° is not above from_deg = 10°"),
        ("full_m = 6.0         # kerb", "full_m = 14.0        # kerb", "the tighter turn is the harder one"),
        ("full_m = 2.1         # a mid", "full_m = 3.2         # a mid", "equals from_m"),
        ("full_m = 0.15        # half", "full_m = 0.4         # half", "the smaller gap is the harder one"),
        ("little room, {size}", "little room {side}", "{side} is not filled in; allowed: {size}"),
        ("climb {size} for", "climb {steepness} for", "{steepness} is not filled in"),
        ("climb {size} for", "climb {size for", "braces do not match"),
        ('besides = "lowest gear"', 'besides = "lowest gear, {size}"', "{size} is not filled in; allowed: none"),
        ('pace = "no faster than {speed}"', 'pace = "at {shift}"', "{shift} is not filled in; allowed: {speed}"),
        ('straddle = "straddle it"', 'straddle = "straddle {side}"', "{side} is not filled in; allowed: none"),
        ("[things.hole]", "[things.note]", "note cannot exercise a technique"),
        ("[things.hole]", "[things.pothole]", "pothole"),
        ('technique = "ruts"', 'technique = "rut"', 'did you mean "ruts"?'),
        ("spacing_m = 30.0", "spacing_m = 5.0 ", "less than merge_m = 10 m"),
        ("window_m = 2.8 ", "window_m = 280 ", "centimetres"),
        ("from_deg = 8.0 ", "from_degrees = 8.0 ", 'did you mean "from_deg"?'),
    ],
)
def test_faulty_files_are_refused(old: str, new: str, said: str) -> None:
    """Ranges the wrong way round, texts that nothing fills, unknown words and wrong units are faults."""
    assert old in SHIPPED
    with pytest.raises(SettingsError, match=r"techniques\.toml") as caught:
        read_settings_text(SHIPPED.replace(old, new, 1), "techniques.toml", Techniques)
    assert said in str(caught.value)


def test_places_beside_the_trail_need_no_table() -> None:
    """A file from before such places were called reads as one that does not want them called."""
    start = SHIPPED.index("[tight_place]")
    without = SHIPPED[:start] + SHIPPED[SHIPPED.index("\n[", start) :]
    assert read_settings_text(without, "techniques.toml", Techniques).tight_place is None
