"""Faults between the keys of a site file are found in the document as it was read, whatever else is wrong in it."""

import pytest

from pipeline.project.references import aim_faults, reference_faults
from pipeline.settings import parse_document


def found(text: str) -> list[str]:
    """List the faults between keys."""
    return [str(fault) for fault in reference_faults(parse_document(text, "s.toml"))]


@pytest.mark.parametrize(
    "text",
    [
        "",
        "site = 3\nconditions = 4\nsetups = 5\nloops = 6\n",
        "[site]\ncrs = 25832\n",
        "setups = [1, { name = 2 }]\nloops = [1, { name = 2, length_m = [1, 2], setups = 'a' }]\n",
        "[[setups]]\nname = 'a'\n[[loops]]\ntime_min = [1, 2]\nsetups = ['a', 3]\n",
        "[conditions]\nwetness = 'dry'\n",
        "[conditions]\nrain_mm = [1]\n",
    ],
)
def test_odd_types_are_left_to_the_model(text: str) -> None:
    """What is no table, no list or no text is told by the model, once, and never stops this look."""
    assert found(text) == []


@pytest.mark.parametrize("crs", ["EPSG:25832", "EPSG:32633", "EPSG:2056", "+proj=utm +zone=32 +datum=WGS84"])
def test_metric_working_systems(crs: str) -> None:
    """Projected systems in metres are taken, however they are written."""
    assert found(f'[site]\ncrs = "{crs}"\n') == []


@pytest.mark.parametrize("crs", ["EPSG:4326", "EPSG:2263", "EPSG:4978", "EPSG:99999", "nonsense", ""])
def test_other_working_systems(crs: str) -> None:
    """Degrees (4326), feet (2263, New York), geocentric metres (4978) and what is no system are refused."""
    (message,) = found(f'[site]\ncrs = "{crs}"\n')
    assert message.startswith(f's.toml:2: site.crs = "{crs}"; allowed: a projected CRS in metres')


def test_every_fault_between_keys_comes_at_once() -> None:
    """Conditions, names, windows and set-ups, each at its line."""
    text = (
        "[conditions]\nwetness = 'dry'\nrain_mm = [1]\n"
        "[[setups]]\nname = 'a'\n[[setups]]\nname = 'a'\n"
        "[[loops]]\nname = 'r'\nsetups = ['b']\n"
    )
    assert [message.split(";")[0] for message in found(text)] == [
        's.toml:2: conditions.wetness = "dry" beside rain_mm',
        's.toml:7: setups[2].name = "a"',
        "s.toml:8: loops[1] has neither length_m nor time_min",
        's.toml:10: loops[1].setups[1] = "b": no such set-up',
    ]


LOOP = "[[setups]]\nname = 'a'\n[[setups]]\nname = 'b'\n[[loops]]\nname = 'r'\ntime_min = [1, 2]\nsetups = ['a', 'b']\n"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            "bypass = ['ab']",
            's.toml:9: loops[1].bypass[1] = "ab": not among the setups of the loop; allowed: "a" | "b"',
        ),
        ("bypass = ['a', 'b']", "s.toml:9: loops[1].bypass names every set-up of the loop; allowed: at least one"),
        (
            "outlook = 'wet'",
            's.toml:9: loops[1].outlook = "wet": no such outlook; allowed: the name of an [[outlooks]]',
        ),
        (
            "outlook = 'wet'\n[[outlooks]]\nname = 'wett'\nwetness = 'wet'",
            's.toml:9: loops[1].outlook = "wet": no such outlook; allowed: "wett"; did you mean "wett"?',
        ),
    ],
)
def test_who_goes_round_and_under_which_weather(text: str, said: str) -> None:
    """Names in bypass are of the loop's set-ups, one of whom stays; an outlook is one of the file."""
    (message,) = found(LOOP + text + "\n")
    assert message.startswith(said)


@pytest.mark.parametrize("text", ["bypass = ['a']", "bypass = 3", "bypass = [3]", "outlook = 3", ""])
def test_good_bypasses_and_odd_types_are_passed_over(text: str) -> None:
    """What is right says nothing; what has the wrong type is told by the model."""
    assert found(f"{LOOP}{text}\n") == []


def test_an_aim_is_one_of_the_techniques_file() -> None:
    """The nearest is named; none, a known one and an odd type say nothing."""
    aims = ("all-round", "wet day")
    document = parse_document("loops = [{ aim = 'wet dya' }, { aim = 'wet day' }, {}, { aim = 3 }, 4]\n", "s.toml")
    (fault,) = aim_faults(document, aims)
    assert str(fault) == (
        's.toml:1: loops[1].aim = "wet dya": the techniques file has no such aim; allowed: "all-round" | "wet day"; '
        'did you mean "wet day"?'
    )
