"""What kinds of columns hold."""

import numpy as np
import pandas as pd
import pytest

from pipeline.tables import Kind


@pytest.mark.parametrize(
    ("kind", "values", "holds"),
    [
        (Kind.TEXT, pd.Series(["a", None]), True),
        (Kind.TEXT, pd.Series([None, None], dtype=object), True),
        (Kind.TEXT, pd.Series(["a", 1], dtype=object), False),
        (Kind.FLOAT, pd.Series([1.0, np.nan]), True),
        (Kind.FLOAT, pd.Series([1]), False),
        (Kind.FLOAT32, pd.Series([1.0], dtype="float32"), True),
        (Kind.FLOAT32, pd.Series([1.0]), False),
        (Kind.INTEGER, pd.Series([1]), True),
        (Kind.INTEGER, pd.Series([1], dtype="int32"), False),
        (Kind.FLAG, pd.Series([True]), True),
        (Kind.FLAG, pd.Series([True, None], dtype="boolean"), True),
        (Kind.FLAG, pd.Series([1]), False),
    ],
)
def test_kinds(kind: Kind, values: pd.Series, holds: bool) -> None:  # noqa: FBT001 - a table of cases
    """Exactly the dtype, but for text, which pandas keeps in several."""
    assert kind.holds(values) is holds


@pytest.mark.parametrize("kind", list(Kind))
def test_an_empty_column_is_of_its_own_kind(kind: Kind) -> None:
    """The dtype of an empty column fits the kind it was made for."""
    assert kind.holds(pd.Series([], dtype=kind.dtype))
