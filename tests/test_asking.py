"""The question why, from the site file to the line that is printed."""

import json
from pathlib import Path

import pytest

from pipeline.asking import ask_why, why_json, why_lines
from pipeline.cli import run
from pipeline.errors import SettingsError
from pipeline.loops.ask.why import Standing
from pipeline.project import read_project
from pipeline.project.starter import write_starter
from pipeline.terms import CAUTION

MORE = """
[[loops]]
name = "Wet round"
objective = "safest"
length_m = [400, 1500]
setups = ["4x4, practised"]
outlook = "after 20 mm of rain"

[[outlooks]]"""


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write the starter site with a loop under other weather, and a trail closed."""
    folder = tmp_path_factory.mktemp("why") / "site"
    write_starter(folder)
    path = folder / "site.toml"
    path.write_text(path.read_text(encoding="utf-8").replace("\n[[outlooks]]", MORE, 1), encoding="utf-8")
    trails = folder / "trails.geojson"
    data = json.loads(trails.read_text(encoding="utf-8"))
    data["features"][-1]["properties"]["status"] = "closed"
    data["features"][-1]["properties"]["name"] = "Shut lane"
    trails.write_text(json.dumps(data), encoding="utf-8")
    return path


def test_every_loop_answers_for_every_segment_of_a_name(site: Path) -> None:
    """Loops in the order of the site file; a closed trail is refused in each, in any weather; nothing is written."""
    before = sorted(site.parent.rglob("*"))
    steps: list[str] = []
    told = ask_why(read_project(site), "Shut lane", None, steps.append)
    assert list(dict.fromkeys(one.loop for one in told)) == ["Quiet round", "Practice round", "Wet round"]
    assert {one.standing for one in told} == {Standing.REFUSED}
    assert steps == ["survey", "terrain", "checks", "loops", "loops under after 20 mm of rain"]
    assert sorted(site.parent.rglob("*")) == before
    lines = why_lines(told)
    assert "  with and against: closed" in lines
    assert lines[-1] == why_json(told)["caution"] == CAUTION


@pytest.mark.parametrize(
    ("name", "loop", "said"),
    [
        ("Shut lain", None, 'no segment, trail or thing at a trail is named "Shut lain"'),
        ("Yard", None, '"Yard" is a place; allowed: a segment id or the name of a trail'),
        ("Shut lane", "Quiet raund", 'did you mean "Quiet round"?'),
    ],
)
def test_names_that_nothing_answers_to(site: Path, name: str, loop: str | None, said: str) -> None:
    """A place is no segment; the nearest name is told."""
    with pytest.raises(SettingsError) as caught:
        ask_why(read_project(site), name, loop, lambda _: None)
    assert said in str(caught.value)


def test_a_site_without_loops_is_told(tmp_path: Path) -> None:
    """There is nothing to ask about."""
    write_starter(tmp_path / "bare")
    path = tmp_path / "bare" / "site.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text[: text.index("[[loops]]")] + text[text.index("[[outlooks]]") :], encoding="utf-8")
    with pytest.raises(SettingsError, match="no loop is asked for"):
        ask_why(read_project(path), "x", None, lambda _: None)


def test_the_command_prints_words_or_json(site: Path, capfd: pytest.CaptureFixture[str]) -> None:
    """The same answers both ways, steps on stderr; a wrong name ends with the status of settings."""
    assert run(["why", str(site), "Shut lane", "--loop", "Quiet round"]) == 0
    out, err = capfd.readouterr()
    assert out.startswith("Quiet round, ")
    assert ": refused: the group may drive it in neither direction." in out
    assert err.splitlines()[-1].endswith("loops")
    assert run(["why", str(site), "Shut lane", "--loop", "Quiet round", "--json"]) == 0
    answers = json.loads(capfd.readouterr().out)["answers"]
    assert {one["standing"] for one in answers} == {"refused"}
    assert answers[0]["ways"][0] == {"direction": "with", "refusals": ["closed"]}
    assert run(["why", str(site), "nowhere"]) == 78
