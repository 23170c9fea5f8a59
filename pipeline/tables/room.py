"""Tables of room and water: the line with the most room past tight places, where water crosses, other weather."""

from pipeline.tables.columns import DIRECTION, SEGMENT_ID, SETUP
from pipeline.tables.contract import Column, Table, words
from pipeline.tables.kinds import Geometry, Kind
from pipeline.terms import CheckName, Part, Verdict

__all__ = ["CROSSINGS", "LINES", "OUTLOOKS"]

_PARTS = tuple(part.word for part in Part)

LINES = Table(
    name="lines",
    key=("segment_id", "setup", "direction", "place"),
    geometry=Geometry.LINE,
    columns=(
        SEGMENT_ID,
        SETUP,
        DIRECTION,
        Column("place", Kind.INTEGER, "number of the tight place on the segment, from 1 in travel"),
        Column("from_m", Kind.FLOAT, "chainage where the line begins, the lower of both ends", "m"),
        Column("to_m", Kind.FLOAT, "chainage where it ends", "m"),
        Column("at_m", Kind.FLOAT, "chainage of the tightest point", "m"),
        Column("offset_m", Kind.FLOAT, "where the middle of the rear axle runs there, + right in travel", "m"),
        Column(
            "left_m", Kind.FLOAT, "smallest gap on the left in travel; negative: it does not fit", "m", nullable=True
        ),
        Column("left_part", Kind.TEXT, "part of the body that is nearest there", nullable=True, words=_PARTS),
        Column("left_x_m", Kind.FLOAT, "where on the body, m ahead of the front axle", "m", nullable=True),
        Column("left_at_m", Kind.FLOAT, "chainage of what is nearest", "m", nullable=True),
        Column("left_thing", Kind.TEXT, "`obstacle_id` of it; missing for the edge of the trail", nullable=True),
        Column("right_m", Kind.FLOAT, "the same on the right", "m", nullable=True),
        Column("right_part", Kind.TEXT, "the same on the right", nullable=True, words=_PARTS),
        Column("right_x_m", Kind.FLOAT, "the same on the right", "m", nullable=True),
        Column("right_at_m", Kind.FLOAT, "the same on the right", "m", nullable=True),
        Column("right_thing", Kind.TEXT, "the same on the right", nullable=True),
        Column("swept_width_m", Kind.FLOAT, "widest that the body sweeps across the line", "m"),
        Column("offtracking_m", Kind.FLOAT, "most that the rear axle cuts inside the front one", "m"),
        Column("tail_swing_m", Kind.FLOAT, "most that a rear corner swings outside the rear axle's side", "m"),
        Column("lock_share", Kind.FLOAT, "largest steering angle ÷ full lock", "1"),
        Column("missing_m", Kind.FLOAT, "width that is missing, margin included; 0 where it passes", "m"),
        Column("shunt", Kind.FLAG, "one reverse would do it; missing where it passes anyway", nullable=True),
        Column("advice", Kind.TEXT, "the line in words for the driver, by the front axle; or why none passes"),
    ),
)
"""One row a tight place, set-up and direction; the geometry is the way of the middle of the front axle, in travel."""

CROSSINGS = Table(
    name="crossings",
    key=("segment_id", "at_m"),
    geometry=Geometry.POINT,
    columns=(
        SEGMENT_ID,
        Column("at_m", Kind.FLOAT, "chainage where water crosses or gathers", "m"),
        Column("kind", Kind.TEXT, "what the elevation model shows", words=("flow path", "hollow", "surveyed only")),
        Column("catchment_m2", Kind.FLOAT, "area that drains there", "m²", nullable=True),
        Column("hollow_m", Kind.FLOAT, "depth of the hollow below its rim on the trail", "m", nullable=True),
        Column("obstacle_id", Kind.TEXT, "surveyed water that it is matched with", nullable=True),
        Column("apart_m", Kind.FLOAT, "distance between the two along the trail", "m", nullable=True),
        Column("depth_m", Kind.FLOAT, "depth as surveyed or tagged", "m", nullable=True),
        Column("depth_now_m", Kind.FLOAT, "depth under the conditions of the build", "m", nullable=True),
        Column("flow_now_m_s", Kind.FLOAT, "speed of the water under them", "m/s", nullable=True),
        Column(
            "entry_deg", Kind.FLOAT, "steepest way down into it, with the digitised direction", "deg", nullable=True
        ),
        Column("exit_deg", Kind.FLOAT, "steepest way up out of it, with the digitised direction", "deg", nullable=True),
        Column("reason", Kind.TEXT, "in a sentence"),
    ),
)
"""One row a place where a flow path crosses the trail, a hollow lies on it, or water was surveyed."""

OUTLOOKS = Table(
    name="outlooks",
    key=("outlook", "segment_id", "setup", "direction"),
    columns=(
        Column("outlook", Kind.TEXT, "name of the other weather, from the settings"),
        SEGMENT_ID,
        SETUP,
        DIRECTION,
        Column("verdict", Kind.TEXT, "the worst of its checks then", words=words(Verdict)),
        Column("utilisation", Kind.FLOAT, "of the check that decides; missing when none is known", "1", nullable=True),
        Column("check", Kind.TEXT, "the check that decides", words=words(CheckName)),
        Column("at_m", Kind.FLOAT, "chainage of the worst point", "m", nullable=True),
        Column("reason", Kind.TEXT, "the check that decides in a sentence"),
    ),
)
"""One row a segment, set-up and direction under every other weather that the settings ask for."""
