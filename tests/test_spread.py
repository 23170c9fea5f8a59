"""The serial mapper is the meaning of every other one."""

from pipeline.spread import Mapper, serial


def test_results_keep_the_order_of_the_blocks() -> None:
    """One result a block, in order, from any iterable."""
    mapper: Mapper = serial
    assert mapper(lambda block: block * block, iter([3, 1, 2])) == [9, 1, 4]
    assert mapper(str, []) == []
