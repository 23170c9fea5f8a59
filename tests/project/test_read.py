"""A site file and all it names become one Project; every fault is told with its line, all at once."""

import datetime as dt
import shutil
from pathlib import Path

import pytest

from pipeline.errors import InputMissingError, PipelineError, SettingsError
from pipeline.ground.weather import Weather
from pipeline.project import read_project, starter_folder
from pipeline.terms import Driver, Objective, Wetness
from tests.project.worlds import SITE, files_of, spoilt, write_site


def faults(path: Path, kind: type[PipelineError] = SettingsError) -> list[str]:
    """List the faults of a site, each relative to its folder; nothing may have been written."""
    before = files_of(path.parent)
    with pytest.raises(kind) as caught:
        read_project(path)
    assert type(caught.value) is kind
    assert files_of(path.parent) == before
    return [str(fault).replace(f"{path.parent}/", "") for fault in caught.value.faults]


def test_a_good_site(tmp_path: Path) -> None:
    """Everything arrives where its stage looks for it."""
    path = write_site(tmp_path / "site")
    project = read_project(path)
    assert (project.name, project.path) == ("Hill", path)
    assert [(one.path.name, one.layer) for one in project.survey.network] == [
        ("trails.gpkg", "tracks"),
        ("more.geojson", None),
    ]
    assert project.survey.trailhead == "Yard"
    assert project.terrain.elevation == (path.parent / "dem.tif",)
    assert project.terrain.dem_rmse_m == 0.1
    assert project.survey_parameters.snap_m == 2.0
    assert [one.choice.name for one in project.setups] == ["long", "short"]
    assert project.setups[0].choice.loads == ("driver",)
    assert project.setups[0].choice.driver is Driver.PRACTISED
    assert project.setups[0].vehicle.name != project.setups[1].vehicle.name
    (request,) = project.requests
    assert (request.objective, request.length_m, request.time_min) == (Objective.SAFEST, (1000.0, 5000.0), None)
    assert project.weather == Weather((0.0, 12.0), None, dt.date(2026, 3, 28))
    assert not project.conditions.assumed
    assert (project.publish.dir, project.publish.keep) == (path.parent / "out", 2)
    assert project.publish.hold_if.coverage_drop == 0.1
    assert project.warnings == ()


def test_every_file_that_is_read_is_listed(tmp_path: Path) -> None:
    """For the manifest: site, vehicles, configs and inputs, sorted, each once."""
    path = write_site(tmp_path / "site")
    project = read_project(path)
    names = {file.name for file in project.inputs}
    assert {"site.toml", "tarn.toml", "wick.toml", "trails.gpkg", "more.geojson", "dem.tif", "obstacles.gpkg"} <= names
    assert {"surfaces.toml", "techniques.toml", "limits.toml", "loops.toml"} <= names
    assert list(project.inputs) == sorted(set(project.inputs))
    assert all(file.is_absolute() for file in project.inputs)


def test_the_echo_is_plain_and_complete(tmp_path: Path) -> None:
    """What decides the products is echoed with defaults; where they go is not."""
    project = read_project(write_site(tmp_path / "site"))
    echo = project.echo()
    assert set(echo) == {"site", "vehicles", "surfaces", "techniques", "limits", "loops"}
    assert echo["site"]["terrain"]["snap_m"] == 2.0
    assert "publish" not in echo["site"]
    assert set(echo["vehicles"]) == {"long", "short"}


def test_the_sample_site_is_good_settings() -> None:
    """The site file of the repository can be read as it is."""
    path = Path(__file__).parents[2] / "configs" / "site.toml"
    try:
        project = read_project(path)
    except InputMissingError as error:
        assert all("sample_data" in str(fault) for fault in error.faults)  # noqa: PT017 - data may not be made yet
    else:
        assert len(project.setups) == 5


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ('name = "Hill"', "nam = 1", 'site.toml:2: unknown key site.nam = 1; did you mean "name"?'),
        ('name = "Hill"', 'name = ""', 'site.toml:2: site.name = ""; allowed: 1 to 60 printable characters, no spaces'),
        ('name = "Hill"', 'name = "a\\u202eb"', "allowed: 1 to 60 printable characters, no spaces at the ends"),
        ('name = "Hill"', f'name = "{"x" * 61}"', "allowed: 1 to 60 printable characters, no spaces at the ends"),
        (
            "length_m = [1000, 5000]",
            "length_m = [1000, 5000]\nseed = 1000001",
            "seed = 1000001; allowed: a whole number from 0 to 1e+06",
        ),
        ('trailhead = "Yard"', "", "site.toml:1: site.trailhead is missing (where every loop begins and ends"),
        ('trailhead = "Yard"', "trailhead = [1]", "site.toml:3: site.trailhead = [1]; allowed: text in quotes or a li"),
        (
            'trailhead = "Yard"',
            'trailhead = "Yard"\ncrs = "EPSG:4326"',
            'site.toml:4: site.crs = "EPSG:4326"; allowed: a projected CRS in metres, such as EPSG:25832; leave it out',
        ),
        ('trailhead = "Yard"', 'trailhead = "Yard"\ncrs = "EPSG:2263"', "allowed: a projected CRS in metres"),
        (
            'trailhead = "Yard"',
            'trailhead = "Yard"\ncrs = "utm"',
            'site.toml:4: site.crs = "utm"; allowed: a projected',
        ),
        (
            'network = ["trails.gpkg:tracks", "more.geojson"]',
            "network = []",
            "site.toml:6: inputs.network = []; allowed: a list of at least 1, each text, not empty",
        ),
        (
            'network = ["trails.gpkg:tracks", "more.geojson"]',
            'network = "trails.gpkg"',
            'site.toml:6: inputs.network = "trails.gpkg"; allowed: a list of at least 1, each text, not empty',
        ),
        (
            'network = ["trails.gpkg:tracks", "more.geojson"]',
            'network = ["more.geojson", "more.geojson"]',
            'site.toml:6: inputs.network = ["more.geojson", "more.geojson"]; allowed: each entry once',
        ),
        (
            "station_spacing_m = 0.5",
            "station_spacing_m = 500",
            "station_spacing_m = 500; allowed: a number from 0.1 to 10 m; metres, not millimetres: 0.5?",
        ),
        ("station_spacing_m = 0.5", "station_spacing_m = 0,5", "site.toml:11:22: Expected newline or end of document"),
        ("dem_rmse_m = 0.1", 'dem_rmse_m = "0.1"', "site.toml:12: terrain.dem_rmse_m = "),
        ("dem_rmse_m = 0.1", "dem_rmse_m = 0.1\ndem_rmse_m = 1", "site.toml:13: terrain.dem_rmse_m is set twice"),
        (
            "rain_mm = [0.0, 12.0]",
            "rain_mm = [0.0,\n-12.0]",
            "site.toml:17: conditions.rain_mm[2] = -12.0; allowed: a n",
        ),
        ("rain_mm = [0.0, 12.0]", "rain_mm = []", "site.toml:16: conditions.rain_mm = []; allowed: a list of 1 to 366"),
        (
            "rain_mm = [0.0, 12.0]",
            'rain_mm = [0.0, 12.0]\nwetness = "dry"',
            'site.toml:17: conditions.wetness = "dry" beside rain_mm; allowed: one of the two; remove it to have the',
        ),
        (
            "rain_mm = [0.0, 12.0]",
            'wetness = "moist"',
            'site.toml:16: conditions.wetness = "moist"; allowed: "dry" | "damp"',
        ),
        ("date = 2026-03-28", "date = 2026-02-30", "site.toml:15"),
        (
            "date = 2026-03-28",
            'date = "28.3.2026"',
            'site.toml:15: conditions.date = "28.3.2026"; allowed: a date such as',
        ),
        (
            'driver = "expert"',
            'driver = "expret"',
            'site.toml:27: setups[2].driver = "expret"; allowed: "first-timer" | ',
        ),
        ('driver = "expert"', "", "site.toml:24: setups[2].driver is missing (how used the driver is to this kind of"),
        ('loads = ["driver"]', 'loads = ["drivr"]', 'load "drivr" is unknown to Tarn 4x4'),
        (
            'driver = "expert"',
            'driver = "expert"\nsuspension = "raisd"',
            'suspension = "raisd" is unknown to Wick short',
        ),
        (
            'setups = ["long", "short"]',
            'setups = ["long",\n"shrt"]',
            'site.toml:34: loops[1].setups[2] = "shrt": no such set-up; allowed: "long" | "short"; did you mean',
        ),
        (
            'setups = ["long", "short"]',
            "setups = []",
            "site.toml:33: loops[1].setups = []; allowed: a list of at least 1",
        ),
        (
            'objective = "safest"',
            'objective = "best"',
            'site.toml:31: loops[1].objective = "best"; allowed: "safest" | ',
        ),
        (
            "length_m = [1000, 5000]",
            "length_m = [5000, 1000]",
            "site.toml:32: loops[1].length_m = [5000, 1000]; allowed: [min, max] with 0 ≤ min ≤ max",
        ),
        ("length_m = [1000, 5000]", "length_m = 5000", "site.toml:32: loops[1].length_m = 5000; allowed: a list of 2"),
        (
            "length_m = [1000, 5000]",
            "",
            "site.toml:29: loops[1] has neither length_m nor time_min; allowed: at least one of them, as [min, max]",
        ),
        ("keep = 2", "keep = -1", "site.toml:37: publish.keep = -1; allowed: a whole number from 0 to 1000"),
        (
            "keep = 2",
            "keep = 2\nhold_if = { coverage_dop = 0.1 }",
            'unknown key publish.hold_if.coverage_dop = 0.1; did you mean "coverage_drop"?',
        ),
        ("[publish]", "[publsh]", 'site.toml:35: unknown table [publsh]; did you mean "publish"?'),
    ],
)
def test_faults_of_the_site_file(tmp_path: Path, old: str, new: str, expected: str) -> None:
    """One slip, one fault: file, line, value, what is allowed, how to mend it."""
    found = faults(write_site(tmp_path / "site", spoilt((old, new))))
    assert len(found) == 1, found
    assert expected in found[0]


def test_names_of_their_own(tmp_path: Path) -> None:
    """Two set-ups or two loops of one name are told, with the line of the first."""
    text = SITE + SITE[SITE.index("[[loops]]") : SITE.index("[publish]")]
    assert faults(write_site(tmp_path, text.replace('"short"', '"long"', 1).replace(', "short"]', "]"))) == [
        'site.toml:25: setups[2].name = "long"; allowed: a name of its own; line 19 has this one already',
        'site.toml:39: loops[2].name = "round"; allowed: a name of its own; line 30 has this one already',
    ]


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        (
            '"trails.gpkg:tracks"',
            '"trail.gpkg:tracks"',
            'site.toml:6: inputs.network[1] = "trail.gpkg:tracks": no such file; did you mean "trails.gpkg"?',
        ),
        (
            '"dem.tif"',
            '"den.tif"',
            'site.toml:7: inputs.elevation[1] = "den.tif": no such file; did you mean "dem.tif"?',
        ),
        ('"dem.tif"', '"tiles/dem.tif"', "no such file; the folder"),
        (
            '"obstacles.gpkg"',
            '"vehicles"',
            'site.toml:8: inputs.obstacles[1] = "vehicles": is a folder; allowed: a file',
        ),
        (
            "vehicles/wick.toml",
            "vehicles/wik.toml",
            'site.toml:26: setups[2].vehicle = "vehicles/wik.toml": no such file',
        ),
        (
            "[publish]",
            '[configs]\nlimits = "limit.toml"\n[publish]',
            'site.toml:36: configs.limits = "limit.toml": no su',
        ),
    ],
)
def test_missing_files(tmp_path: Path, old: str, new: str, expected: str) -> None:
    """A missing file is told where it is named, with the file it could mean; the status is that of missing input."""
    found = faults(write_site(tmp_path / "site", spoilt((old, new))), InputMissingError)
    assert len(found) == 1, found
    assert expected in found[0]


def test_a_missing_site_file(tmp_path: Path) -> None:
    """The site file itself may be misspelt."""
    write_site(tmp_path)
    with pytest.raises(InputMissingError, match=r'no such file; did you mean "site\.toml"\?'):
        read_project(tmp_path / "sit.toml")


def test_faults_of_all_files_come_at_once(tmp_path: Path) -> None:
    """Site file, both vehicles, a config and a missing input: one report; settings win over missing files."""
    path = write_site(tmp_path, spoilt(("keep = 2", "keeep = 2"), ('"dem.tif"', '"den.tif"'), ('"shor', '"xxor')))
    for name in ("tarn", "wick"):
        file = tmp_path / "vehicles" / f"{name}.toml"
        file.write_text(file.read_text(encoding="utf-8").replace("wheelbase_m", "wheelbse_m"), encoding="utf-8")
    shutil.copy(starter_folder() / "surfaces.toml", tmp_path)
    (tmp_path / "surfaces.toml").write_text("default = 3\n")
    found = "\n".join(faults(path))
    for expected in (
        "site.toml:37: unknown key publish.keeep",
        'site.toml:7: inputs.elevation[1] = "den.tif": no such file',
        "no such set-up",
        "vehicles/tarn.toml:",
        "vehicles/wick.toml:",
        "surfaces.toml:1: default = 3; allowed: text in quotes",
    ):
        assert expected in found


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ("wheelbase_m = ", "wheelbase_m = 100", "wheelbase_m = 1002.79; allowed: a number from 1.2 to 6 m"),
        ("wheelbase_m = ", "wheelbase_mm = ", 'did you mean "wheelbase_m"?'),
        ('drive = "4wd"', 'drive = "awd"', 'drive = "awd"; allowed: "4wd" | "2wd-rear" | "2wd-front"'),
        ("low_range = ", "low_range = not ", "Invalid value"),
    ],
)
def test_faults_of_a_vehicle_file(tmp_path: Path, old: str, new: str, expected: str) -> None:
    """A vehicle is held to the same rules as the site; its fault is told once, however many set-ups use it."""
    path = write_site(tmp_path, spoilt(("vehicles/wick.toml", "vehicles/tarn.toml")))
    file = tmp_path / "vehicles" / "tarn.toml"
    text = file.read_text(encoding="utf-8")
    assert old in text
    file.write_text(text.replace(old, new, 1), encoding="utf-8")
    found = [message for message in faults(path) if expected in message]
    assert len(found) == 1
    assert found[0].startswith("vehicles/tarn.toml:")


def test_settings_files_beside_the_site_come_first(tmp_path: Path) -> None:
    """A file of the site is used instead of the starter's; [configs] wins over both."""
    path = write_site(tmp_path / "site")
    beside = starter_folder() / "limits.toml"
    assert beside in read_project(path).inputs
    shutil.copy(beside, path.parent / "limits.toml")
    assert path.parent / "limits.toml" in read_project(path).inputs
    shutil.copy(beside, path.parent / "mine.toml")
    path.write_text(SITE + '[configs]\nlimits = "mine.toml"\n', encoding="utf-8")
    used = read_project(path).inputs
    assert path.parent / "mine.toml" in used
    assert path.parent / "limits.toml" not in used


def test_nothing_said_about_rain_is_wet_ground_and_a_warning(tmp_path: Path) -> None:
    """Dry ground has to be claimed; what was not given is listed for every product."""
    text = (
        SITE.split("[conditions]")[0].replace('obstacles = ["obstacles.gpkg"]\n', "").replace("dem_rmse_m = 0.1\n", "")
    )
    text += "[[setups]]" + SITE.split("[[setups]]")[1]
    project = read_project(write_site(tmp_path, text))
    assert project.weather == Weather(wetness=Wetness.WET)
    assert project.conditions.assumed
    assert project.requests == ()
    assert len(project.warnings) == 3
    assert "taken to be wet" in project.warnings[0]


def test_rain_without_a_date_dries_as_in_midwinter_and_says_so(tmp_path: Path) -> None:
    """A day that nobody named is not quietly a summer's; a given wetness needs no date."""
    undated = spoilt(("date = 2026-03-28\n", ""))
    warnings = read_project(write_site(tmp_path / "a", undated)).warnings
    assert [one for one in warnings if "No date was given" in one]
    stated = undated.replace("rain_mm = [0.0, 12.0]", 'wetness = "damp"')
    assert not [one for one in read_project(write_site(tmp_path / "b", stated)).warnings if "No date" in one]
    rainy = stated + '[[outlooks]]\nname = "rain"\nrain_mm = [30]\n'
    assert [one for one in read_project(write_site(tmp_path / "c", rainy)).warnings if "No date" in one]
    dated = rainy + "date = 2026-06-01\n"
    assert not [one for one in read_project(write_site(tmp_path / "d", dated)).warnings if "No date" in one]


def test_no_elevation_is_allowed_and_told(tmp_path: Path) -> None:
    """Survey-grade lines may bring their own heights."""
    project = read_project(write_site(tmp_path, spoilt(('elevation = ["dem.tif"]\n', ""))))
    assert project.terrain.elevation == ()
    assert any("No elevation model" in warning for warning in project.warnings)


def test_a_wetness_of_the_settings_stands(tmp_path: Path) -> None:
    """An override is taken as it is."""
    path = write_site(tmp_path, spoilt(("rain_mm = [0.0, 12.0]", 'wetness = "soaked"')))
    assert read_project(path).weather.wetness is Wetness.SOAKED


def test_a_path_may_hold_a_colon(tmp_path: Path) -> None:
    """A file whose own name has a colon is found before a layer is looked for."""
    path = write_site(tmp_path, spoilt(('"more.geojson"', '"a:b.geojson"')))
    (tmp_path / "a:b.geojson").write_text("")
    source = read_project(path).survey.network[1]
    assert (source.path.name, source.layer) == ("a:b.geojson", None)


def test_single_limits_can_be_laid_over_the_file(tmp_path: Path) -> None:
    """A key of [limits] replaces that key of the limits file and no other."""
    plain = read_project(write_site(tmp_path / "plain")).limits
    own = read_project(write_site(tmp_path / "own", SITE + "[limits]\nshare.expert.roll = 0.25\n")).limits
    assert own.share[Driver.EXPERT].roll == 0.25
    assert own.share[Driver.EXPERT].climb == plain.share[Driver.EXPERT].climb
    assert own.share[Driver.PRACTISED] == plain.share[Driver.PRACTISED]
    assert own.thresholds == plain.thresholds


@pytest.mark.parametrize(
    ("more", "expected"),
    [
        (
            "[limits]\nroof_margn_m = 0.2",
            'site.toml:40: unknown key limits.roof_margn_m = 0.2; did you mean "roof_margin_m"?',
        ),
        (
            "[limits]\nroof_margin_m = 200",
            "site.toml:40: limits.roof_margin_m = 200; allowed: a number from 0 to 1 m; met",
        ),
        (
            "[limits.share.expert]\nroll = 2",
            "site.toml:40: limits.share.expert.roll = 2; allowed: a number above 0 and ",
        ),
        (
            "[limits.share.novice]\nroll = 1",
            "site.toml:39: unknown table [limits.share.novice]; allowed: first-timer, ",
        ),
        ("[limits.thresholds]\nample = 0.9", "site.toml:39: limits.thresholds: ample 0.9, watch "),
    ],
)
def test_faults_of_overrides_are_told_in_the_site_file(tmp_path: Path, more: str, expected: str) -> None:
    """The limits file is good; what is laid over it is at fault, at its own line."""
    (message,) = faults(write_site(tmp_path / "site", f"{SITE}\n{more}\n"))
    assert expected in message


def test_an_unknown_aim_is_told_beside_other_faults(tmp_path: Path) -> None:
    """The techniques file says which aims there are; the line of the site file is named."""
    text = SITE.replace('name = "round"', 'name = "round"\naim = "first dya"\noutlook = "nowhere"')
    with pytest.raises(SettingsError) as caught:
        read_project(write_site(tmp_path, text))
    said = "\n".join(str(fault) for fault in caught.value.faults)
    assert 'did you mean "first day"?' in said
    assert '"nowhere": no such outlook' in said
