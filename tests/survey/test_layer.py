"""How attribute names are looked up."""

import pytest

from pipeline.survey.layer import plain_key


@pytest.mark.parametrize(
    ("written", "plain"),
    [("Width", "width"), ("maxwidth:physical", "maxwidth_physical"), (" surveyed on ", "surveyed_on"), ("ID", "id")],
)
def test_plain_key(written: str, plain: str) -> None:
    """Capitals, colons and spaces do not matter."""
    assert plain_key(written) == plain
