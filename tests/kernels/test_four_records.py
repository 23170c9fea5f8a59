"""The records of the four-wheel kernels agree with the vocabularies of the package."""

from pipeline.kernels import four_records
from pipeline.terms import Wheel
from pipeline.units import GRAVITY


def test_wheels_are_those_of_the_package() -> None:
    """The numbers of the wheels follow the order of the vocabulary."""
    numbers = [four_records.FL, four_records.FR, four_records.RL, four_records.RR]
    assert numbers == list(range(4))
    assert [wheel.name for wheel in Wheel] == ["FRONT_LEFT", "FRONT_RIGHT", "REAR_LEFT", "REAR_RIGHT"]


def test_gravity_is_that_of_the_package() -> None:
    """Kernels import nothing; their constant is the same."""
    assert four_records.GRAVITY == GRAVITY
