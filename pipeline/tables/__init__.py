"""Column contracts of all tables, and the check of a frame against one."""

from pipeline.tables.contract import Column, Table, empty, validate
from pipeline.tables.kinds import Geometry, Kind
from pipeline.tables.mechanics import COMPARISONS, FITNESS, PASSINGS, POSES, STOPPING
from pipeline.tables.results import CALLS, CHECKS, LEGS, LOOPS, SEGMENTS, STATIONS, TECHNIQUES, VERDICTS
from pipeline.tables.room import CROSSINGS, LINES, OUTLOOKS
from pipeline.tables.session import BYPASSES, CONVOY, PRACTICE, SESSION
from pipeline.tables.survey import NETWORK, NODES, OBSTACLES, REPAIRS

__all__ = [
    "BYPASSES",
    "CALLS",
    "CHECKS",
    "COMPARISONS",
    "CONVOY",
    "CROSSINGS",
    "FITNESS",
    "LEGS",
    "LINES",
    "LOOPS",
    "NETWORK",
    "NODES",
    "OBSTACLES",
    "OUTLOOKS",
    "PASSINGS",
    "POSES",
    "PRACTICE",
    "REPAIRS",
    "SEGMENTS",
    "SESSION",
    "STATIONS",
    "STOPPING",
    "TECHNIQUES",
    "VERDICTS",
    "Column",
    "Geometry",
    "Kind",
    "Table",
    "empty",
    "validate",
]
