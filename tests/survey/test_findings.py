"""Faults are collected over everything and raised once."""

import pytest
import shapely

from pipeline.errors import DataError, Fault, InputMissingError
from pipeline.survey.findings import Findings, Repair

BAD, GONE = Fault("a.gpkg", "feature 1", "bad"), Fault("b.gpkg", "", "no such file")


def test_nothing_wrong() -> None:
    """Without a fault nothing is raised."""
    Findings().stop_if_faulty()


def test_missing_files_alone() -> None:
    """Missing files alone are missing input (status 66)."""
    with pytest.raises(InputMissingError) as raised:
        Findings(missing=[GONE]).stop_if_faulty()
    assert raised.value.faults == (GONE,)


def test_both() -> None:
    """Missing files beside bad data are a fault of the data (status 65) that carries all of them."""
    with pytest.raises(DataError) as raised:
        Findings(faults=[BAD], missing=[GONE]).stop_if_faulty()
    assert raised.value.faults == (GONE, BAD)


def test_place_of_later_repairs() -> None:
    """Only repairs after the mark that have no place yet are given one."""
    here, there = shapely.Point(0, 0), shapely.Point(1, 1)
    findings = Findings(
        repairs=[Repair("a", "s", "f", "d"), Repair("b", "s", "f", "d"), Repair("c", "s", "f", "d", there)]
    )
    findings.locate_since(1, here)
    assert [repair.geometry for repair in findings.repairs] == [None, here, there]
