"""Columns that several tables share."""

from pipeline.tables.contract import Column, words
from pipeline.tables.kinds import Kind
from pipeline.terms import Direction

__all__ = ["DIRECTION", "LOOP", "RANK", "SEGMENT_ID", "SETUP"]

SEGMENT_ID = Column("segment_id", Kind.TEXT, "segment")
SETUP = Column("setup", Kind.TEXT, "vehicle as it will be driven")
DIRECTION = Column("direction", Kind.TEXT, "of travel, against the digitised direction", words=words(Direction))
LOOP = Column("loop", Kind.TEXT, "name of the loop, from the settings")
RANK = Column("rank", Kind.INTEGER, "1 for the best, 2 … for alternatives")
