"""The limits file and its overrides."""

import json

import pytest

from pipeline.errors import SettingsError
from pipeline.terms import CheckName, Driver
from tests.checks.worlds import LIMITS


def test_shipped_limits_give_less_to_less_practised_drivers() -> None:
    """No driver may use more of a limit than a more practised one."""
    careful, practised, expert = (LIMITS.share[driver].model_dump() for driver in Driver)
    assert all(careful[name] <= practised[name] <= expert[name] for name in careful)


def test_shipped_roll_share_stays_below_a_tilting_table() -> None:
    """Vehicles tip on a table at about 0.85–0.95 of the rigid figure (from memory, not verified): 0.7 at most."""
    assert max(shares.roll for shares in LIMITS.share.values()) <= 0.7


def test_shares_by_name() -> None:
    """Shares come in the shape of the names; a name that is no check has the whole limit."""
    names = [[CheckName.ROLL.value, CheckName.SOFT.value, "none"]]
    assert LIMITS.shares(Driver.FIRST_TIMER, names).tolist() == [[0.5, 0.7, 1.0]]


def test_merged_lays_single_keys_over() -> None:
    """An override changes the named key alone and leaves the original as it was."""
    merged = LIMITS.merged({"side_margin_m": 0.5, "share": {"expert": {"roll": 0.6}}, "accept_unsurveyed": ["height"]})
    assert merged.side_margin_m == 0.5
    assert merged.share[Driver.EXPERT].roll == 0.6
    assert merged.share[Driver.EXPERT].slide == LIMITS.share[Driver.EXPERT].slide
    assert merged.accept_unsurveyed == (CheckName.HEIGHT,)
    assert LIMITS.side_margin_m == 0.3


@pytest.mark.parametrize(
    ("overrides", "place"),
    [
        ({"side_margin_mm": 300}, "side_margin_mm"),
        ({"required_gap_m": 50}, "required_gap_m"),
        ({"share": {"expert": {"roll": 1.2}}}, "share.expert.roll"),
        ({"accept_unsurveyed": ["hight"]}, "accept_unsurveyed.0"),
        ({"thresholds": {"ample": 0.9}}, "thresholds"),
    ],
)
def test_faulty_overrides_name_their_key(overrides: dict[str, object], place: str) -> None:
    """Unknown keys, wrong units and thresholds out of order are told with their key."""
    with pytest.raises(SettingsError) as caught:
        LIMITS.merged(overrides)
    assert [fault.place for fault in caught.value.faults] == [place]


@pytest.mark.parametrize("table", ["motion", "share"])
def test_every_driver_needs_shares_and_speeds(table: str) -> None:
    """Limits without the shares or the speeds of a driver are refused, and the table to write is named."""
    data = LIMITS.model_dump(mode="json")
    del data[table]["expert"]
    with pytest.raises(
        ValueError, match=rf"\[{table}\.expert\] missing; allowed: a table for every driver: first-timer"
    ):
        type(LIMITS).model_validate_json(json.dumps(data))


def test_both_tables_without_a_driver_are_told_at_once() -> None:
    """What is missing comes in one message."""
    data = LIMITS.model_dump(mode="json")
    del data["share"]["expert"], data["motion"]["practised"]
    with pytest.raises(ValueError, match=r"\[motion\.practised\], \[share\.expert\] missing"):
        type(LIMITS).model_validate_json(json.dumps(data))
