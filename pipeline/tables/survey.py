"""Tables of the survey stage: what was found in the field."""

from pipeline.tables.contract import Column, Table, words
from pipeline.tables.kinds import Geometry, Kind
from pipeline.terms import ObstacleKind, Status

__all__ = ["NETWORK", "NODES", "OBSTACLES", "REPAIRS"]

NETWORK = Table(
    name="network",
    key=("segment_id",),
    geometry=Geometry.LINE,
    columns=(
        Column("segment_id", Kind.TEXT, "the source's own id where it has one, stable over rebuilds"),
        Column("name", Kind.TEXT, "name of the trail", nullable=True),
        Column("source", Kind.TEXT, "file, and layer where it has more than one, that the segment came from"),
        Column("surveyed_on", Kind.TEXT, "ISO date of the last survey on foot", nullable=True),
        Column("status", Kind.TEXT, "whether it may be driven; access = no reads as closed", words=words(Status)),
        Column("surface", Kind.TEXT, "surface word as tagged", nullable=True),
        Column("tracktype", Kind.TEXT, "firmness grade1…grade5, the worse of a range", nullable=True),
        Column("smoothness", Kind.TEXT, "usability for wheels, as tagged", nullable=True),
        Column("width_m", Kind.FLOAT, "width that can be driven", "m", nullable=True),
        Column("max_width_m", Kind.FLOAT, "narrowest signed or physical width", "m", nullable=True),
        Column("max_height_m", Kind.FLOAT, "lowest signed or physical height", "m", nullable=True),
        Column(
            "incline_pct", Kind.FLOAT, "tagged steepest grade, + uphill in the digitised direction", "%", nullable=True
        ),
        Column("oneway", Kind.INTEGER, "0 both directions, 1 only with, -1 only against the digitised direction"),
        Column("ford", Kind.FLAG, "water runs over the segment"),
        Column("depth_m", Kind.FLOAT, "depth of the water at the ford", "m", nullable=True),
        Column("bridge", Kind.FLAG, "carried over what it crosses: no junction there"),
        Column("tunnel", Kind.FLAG, "carried under what it crosses: no junction there"),
        Column(
            "profile", Kind.TEXT, "`survey`: heights in the geometry are survey grade", nullable=True, words=("survey",)
        ),
        Column("node_a", Kind.INTEGER, "node at the start of the digitised direction"),
        Column("node_b", Kind.INTEGER, "node at its end"),
        Column("length_m", Kind.FLOAT, "plan length", "m"),
    ),
)
"""Segments between junctions; the line has Z only where ``profile`` is ``survey``."""

NODES = Table(
    name="nodes",
    key=("node_id",),
    geometry=Geometry.POINT,
    columns=(
        Column("node_id", Kind.INTEGER, "number of the node, in order of x then y"),
        Column("degree", Kind.INTEGER, "number of segment ends that meet here"),
        Column("turn_round", Kind.FLAG, "a vehicle can turn round here"),
        Column("name", Kind.TEXT, "name of the place", nullable=True),
    ),
)
"""Junctions, dead ends and named places on the network."""

OBSTACLES = Table(
    name="obstacles",
    key=("obstacle_id",),
    geometry=Geometry.POINT,
    columns=(
        Column("obstacle_id", Kind.TEXT, "the source's own id, or file stem and row"),
        Column("kind", Kind.TEXT, "what it is", words=words(ObstacleKind)),
        Column("name", Kind.TEXT, "name of the thing or place", nullable=True),
        Column("segment_id", Kind.TEXT, "segment it lies on or beside; missing when none is near", nullable=True),
        Column("chainage_m", Kind.FLOAT, "where along that segment (middle of the thing)", "m", nullable=True),
        Column(
            "offset_m",
            Kind.FLOAT,
            "distance from the centre line, + right of the digitised direction",
            "m",
            nullable=True,
        ),
        Column("height_m", Kind.FLOAT, "height above (+) or depth below (−) the ground around it", "m", nullable=True),
        Column("length_m", Kind.FLOAT, "extent along the trail", "m", nullable=True),
        Column("width_m", Kind.FLOAT, "extent across the trail", "m", nullable=True),
        Column("clear_width_m", Kind.FLOAT, "free width of a gap", "m", nullable=True),
        Column("clear_height_m", Kind.FLOAT, "free height under a branch", "m", nullable=True),
        Column("depth_m", Kind.FLOAT, "depth of water", "m", nullable=True),
        Column("flow_m_s", Kind.FLOAT, "speed of the water", "m/s", nullable=True),
        Column("surveyed_on", Kind.TEXT, "ISO date of the survey", nullable=True),
        Column("note", Kind.TEXT, "what the surveyor wrote", nullable=True),
        Column("source", Kind.TEXT, "file it came from"),
    ),
)
"""Surveyed things and named places, attached to the segment they lie on."""

REPAIRS = Table(
    name="repairs",
    geometry=Geometry.ANY,
    columns=(
        Column("repair", Kind.TEXT, "what was done: snapped, split, dropped …"),
        Column("source", Kind.TEXT, "file, and layer, of the feature"),
        Column("feature", Kind.TEXT, "the feature's id in its source"),
        Column(
            "segment_id", Kind.TEXT, "segment that carries the repair; missing when nothing was kept", nullable=True
        ),
        Column("amount_m", Kind.FLOAT, "how far something moved, or how much was dropped", "m", nullable=True),
        Column("detail", Kind.TEXT, "the repair in a sentence"),
    ),
)
"""Every change made to what the survey files said."""
