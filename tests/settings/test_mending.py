"""What a model refuses is told with line, value, what is allowed and how to mend it; all faults at once."""

import datetime as dt
from typing import Annotated

import pytest
from pydantic import Field, model_validator

from pipeline.errors import SettingsError
from pipeline.settings import Strict, read_settings_text, value_text
from pipeline.terms import Driver


class Axle(Strict):
    """One axle."""

    track_m: float = Field(gt=0.5, lt=3.0)
    """Distance of the tyres."""
    mass_kg: float = Field(ge=100.0, le=5000.0)
    """Mass on it."""


class Machine(Strict):
    """A vehicle of the tests."""

    name: str = Field(min_length=1, max_length=10)
    """Its name."""
    wheelbase_m: float = Field(gt=0.5, lt=10.0)
    """Distance between the axles."""
    driver: Driver = Driver.EXPERT
    doors: int = Field(default=4, ge=2, le=5)
    low_range: bool = True
    axles: tuple[Axle, ...] = Field(default=(), max_length=2)
    underbody: tuple[tuple[float, float], ...] | None = Field(default=None, min_length=2)
    place: str | tuple[float, float] = "yard"
    tested: dt.date | None = None
    speeds_kmh: dict[Driver, float] = Field(default_factory=dict)
    tread_mm: Annotated[float, Field(gt=2.0, lt=30.0)] = 9.0

    @model_validator(mode="after")
    def _name_fits(self) -> "Machine":
        if self.name == "bad":
            message = "bad is no name"
            raise ValueError(message)
        if self.name == "worse":
            message = "allowed: a better name"
            raise ValueError(message)
        return self


GOOD = 'name = "long"\nwheelbase_m = 2.85\n'


def messages(text: str) -> list[str]:
    """List the messages for a text that has faults."""
    with pytest.raises(SettingsError) as caught:
        read_settings_text(text, "x.toml", Machine)
    return [str(fault) for fault in caught.value.faults]


def test_good_settings_are_read() -> None:
    """Lists fill tuples, words fill enums, whole numbers fill floats, dates come either way."""
    machine = read_settings_text(
        'name = "a"\nwheelbase_m = 3\nunderbody = [[1, 2], [3.5, 4]]\ndriver = "first-timer"\ntested = 2026-03-01\n'
        "place = [1, 2]\nspeeds_kmh = { expert = 9 }\n[[axles]]\ntrack_m = 1.5\nmass_kg = 900\n",
        "x.toml",
        Machine,
    )
    assert machine.wheelbase_m == 3.0
    assert machine.underbody == ((1.0, 2.0), (3.5, 4.0))
    assert machine.driver is Driver.FIRST_TIMER
    assert machine.tested == dt.date(2026, 3, 1)
    assert machine.place == (1.0, 2.0)
    assert machine.speeds_kmh == {Driver.EXPERT: 9.0}
    assert machine.axles[0].mass_kg == 900.0
    assert read_settings_text(GOOD + 'tested = "2026-03-01"', "x.toml", Machine).tested == machine.tested


@pytest.mark.parametrize(
    ("more", "expected"),
    [
        ("wheelbse_m = 2", 'x.toml:3: unknown key wheelbse_m = 2; did you mean "wheelbase_m"?'),
        ("Low-Range = true", 'x.toml:3: unknown key Low-Range = true; did you mean "low_range"?'),
        (
            "colour = 1",
            "x.toml:3: unknown key colour = 1; allowed: name, wheelbase_m, driver, doors, low_range, axles, underb",
        ),
        ("[fuel]\nx = 1", "x.toml:3: unknown table [fuel]; allowed: name, wheelbase_m, driver, doors, low_range"),
        ('driver = "expret"', 'x.toml:3: driver = "expret"; allowed: "first-timer" | "practised" | "expert"; did you'),
        ('driver = "EXPERT"', 'did you mean "expert"?'),
        ("doors = 9", "x.toml:3: doors = 9; allowed: a whole number from 2 to 5"),
        ("doors = 4.5", "x.toml:3: doors = 4.5; allowed: a whole number from 2 to 5"),
        ('doors = "4"', "from 2 to 5; write the number without quotation marks"),
        ('low_range = "yes"', 'x.toml:3: low_range = "yes"; allowed: true or false'),
        ("low_range = 1", "x.toml:3: low_range = 1; allowed: true or false"),
        ("tread_mm = 0.009", "allowed: a number above 2 and below 30 mm; millimetres, not metres: 9?"),
        ("tread_mm = 40", "x.toml:3: tread_mm = 40; allowed: a number above 2 and below 30 mm"),
        ("tread_mm = nan", "x.toml:3: tread_mm = nan; allowed: a number above 2 and below 30 mm"),
        ("tread_mm = inf", "x.toml:3: tread_mm = inf; allowed"),
        ("underbody = [[1, 2]]", "x.toml:3: underbody = [[1, 2]]; allowed: a list of at least 2, each a list of 2"),
        ('underbody = [[1, 2],\n[3, "x"]]', 'x.toml:4: underbody[2][2] = "x"; allowed: a number'),
        ("underbody = [[1, 2],\n[3]]", "x.toml:4: underbody[2]"),
        ('place = [1, "x"]', 'x.toml:3: place = [1, "x"]; allowed: text in quotes or a list of 2, each a number'),
        ("place = true", "x.toml:3: place = true; allowed: text in quotes or a list of 2, each a number"),
        ('tested = "soon"', 'x.toml:3: tested = "soon"; allowed: a date such as 2026-03-28'),
        ("[speeds_kmh]\nexprt = 9", 'x.toml:4: unknown key speeds_kmh.exprt = 9; did you mean "expert"?'),
        ('[speeds_kmh]\nexpert = "9,5"', 'x.toml:4: speeds_kmh.expert = "9,5"; allowed: a number in km/h; write the'),
        ("[[axles]]\ntrack_m = 1", "x.toml:3: axles[1].mass_kg is missing (mass on it); allowed: a number from 100"),
        (
            "[[axles]]\nmass_kg = 900\ntrack_m = 155",
            "axles[1].track_m = 155; allowed: a number above 0.5 and below 3 m; metres, not centimetres: 1.55?",
        ),
        ("[[axles]]\nmass_kg = 900\ntrack_m = 1.5\nwheelbase_m = 3", "x.toml:6: unknown key axles[1].wheelbase_m = 3;"),
    ],
)
def test_golden_messages(more: str, expected: str) -> None:
    """Each kind of fault has its line, its value, what is allowed and how to mend it."""
    (message,) = messages(GOOD + more)
    assert expected in message


def test_millimetres_for_metres() -> None:
    """A wheelbase of 2850 is told to be in metres."""
    assert messages('name = "a"\nwheelbase_m = 2850') == [
        "x.toml:2: wheelbase_m = 2850; allowed: a number above 0.5 and below 10 m; metres, not millimetres: 2.85?"
    ]


def test_all_faults_come_at_once_in_the_order_of_lines() -> None:
    """Four faults, four lines, sorted."""
    found = messages('doors = 1\nname = ""\ncolour = 2\nwheelbase_m = 28\n')
    assert [message.split(":")[1] for message in found] == ["1", "2", "3", "4"]


def test_one_typing_error_is_one_fault() -> None:
    """A misspelt required key is not reported again as missing."""
    assert messages('name = "a"\nwheelbse_m = 2') == [
        'x.toml:2: unknown key wheelbse_m = 2; did you mean "wheelbase_m"?'
    ]


def test_a_missing_key_of_the_file_says_what_it_is() -> None:
    """A key missing at the top has no line; its meaning and its range are told."""
    assert messages('name = "a"') == [
        "x.toml: wheelbase_m is missing (distance between the axles); allowed: a number above 0.5 and below 10 m"
    ]


def test_a_key_in_the_wrong_table_is_sent_home() -> None:
    """TOML puts a key that follows a header into that table; the message says where it belongs."""
    (message,) = messages(GOOD + "[[axles]]\nmass_kg = 900\ntrack_m = 1.5\nlow_range = true")
    assert message.endswith("it belongs above the first [table]")


def test_an_unknown_key_that_another_table_has() -> None:
    """A key of another table is named with it."""
    assert messages(GOOD + "mass_kg = 3")[0].endswith("it belongs in [axles]")


@pytest.mark.parametrize(("name", "expected"), [("bad", "x.toml: bad is no name"), ("worse", "allowed: a better name")])
def test_a_models_own_words_are_kept(name: str, expected: str) -> None:
    """What a model's own validator says is the message."""
    assert expected in messages(f'name = "{name}"\nwheelbase_m = 3')[0]


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (True, "true"),
        ("a", '"a"'),
        ([1, "b", [True]], '[1, "b", [true]]'),
        ({"a": 1}, "a table"),
        ("x" * 100, '"' + "x" * 58 + "…"),
    ],
)
def test_values_are_written_as_toml(value: object, text: str) -> None:
    """Values look as they do in the file; long ones are cut."""
    assert value_text(value) == text


@pytest.mark.parametrize("value", [0.4, 10.0, 30.0, -2850.0])
def test_a_value_a_little_outside_is_no_other_unit(value: float) -> None:
    """Only a value far outside its range is taken for millimetres."""
    (message,) = messages(f'name = "a"\nwheelbase_m = {value}')
    assert message == f"x.toml:2: wheelbase_m = {value}; allowed: a number above 0.5 and below 10 m"
