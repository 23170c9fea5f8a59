"""One table of settings laid over another."""

from pipeline.settings import laid_over


def test_inner_tables_are_laid_key_by_key() -> None:
    """A key of an inner table changes alone; its neighbours stay."""
    base = {"a": 1, "share": {"expert": {"roll": 0.7, "turn": 1.0}}}
    assert laid_over(base, {"share": {"expert": {"roll": 0.6}}}) == {
        "a": 1,
        "share": {"expert": {"roll": 0.6, "turn": 1.0}},
    }


def test_a_value_takes_the_place_of_a_table_and_the_other_way_round() -> None:
    """What is not a table on both sides is replaced whole, lists too."""
    assert laid_over({"a": {"b": 1}, "c": [1, 2]}, {"a": 2, "c": [3]}) == {"a": 2, "c": [3]}
    assert laid_over({"a": 2}, {"a": {"b": 1}}) == {"a": {"b": 1}}


def test_neither_table_is_changed() -> None:
    """The result is a new table at every level that was laid over."""
    base, own = {"a": {"b": 1}}, {"a": {"c": 2}}
    laid_over(base, own)["a"]["d"] = 3
    assert base == {"a": {"b": 1}}
    assert own == {"a": {"c": 2}}
