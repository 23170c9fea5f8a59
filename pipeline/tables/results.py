"""Tables that the build hands out: terrain, checks, techniques, loops, calls."""

from pipeline.tables.columns import DIRECTION, LOOP, RANK, SEGMENT_ID, SETUP
from pipeline.tables.contract import Column, Table, words
from pipeline.tables.kinds import Geometry, Kind
from pipeline.terms import Basis, CheckName, Objective, Status, Technique, Verdict, Wetness

__all__ = ["CALLS", "CHECKS", "LEGS", "LOOPS", "SEGMENTS", "STATIONS", "TECHNIQUES", "VERDICTS"]

SEGMENTS = Table(
    name="segments",
    key=("segment_id",),
    geometry=Geometry.LINE,
    columns=(
        Column("segment_id", Kind.TEXT, "the source's own id where it has one"),
        Column("name", Kind.TEXT, "name of the trail", nullable=True),
        Column("source", Kind.TEXT, "file the segment came from"),
        Column("surveyed_on", Kind.TEXT, "ISO date of the last survey on foot", nullable=True),
        Column("status", Kind.TEXT, "whether it may be driven", words=words(Status)),
        Column("surface", Kind.TEXT, "surface class used for grip", nullable=True),
        Column("width_m", Kind.FLOAT, "width that can be driven", "m", nullable=True),
        Column("node_a", Kind.INTEGER, "node at the start"),
        Column("node_b", Kind.INTEGER, "node at the end"),
        Column("length_m", Kind.FLOAT, "plan length", "m"),
        Column("ground_length_m", Kind.FLOAT, "length along the ground; missing without heights", "m", nullable=True),
        Column("elevation_min_m", Kind.FLOAT, "lowest height", "m", nullable=True),
        Column("elevation_max_m", Kind.FLOAT, "highest height", "m", nullable=True),
        Column("rise_m", Kind.FLOAT, "sum of the climbs in the with direction", "m", nullable=True),
        Column("fall_m", Kind.FLOAT, "sum of the descents in the with direction, positive", "m", nullable=True),
        Column("grade_mean_deg", Kind.FLOAT, "end to end, + uphill with", "deg", nullable=True),
        Column("grade_max_deg", Kind.FLOAT, "steepest, signed, + uphill with", "deg", nullable=True),
        Column("grade_min_deg", Kind.FLOAT, "least steep, signed like grade_max_deg", "deg", nullable=True),
        Column("side_slope_max_deg", Kind.FLOAT, "steepest side slope, unsigned", "deg", nullable=True),
        Column("side_slope_p95_deg", Kind.FLOAT, "95th percentile of the side slope, unsigned", "deg", nullable=True),
        Column("radius_min_m", Kind.FLOAT, "tightest plan radius; inf where straight", "m"),
        Column("height_coverage", Kind.FLOAT, "share of stations with a height, 0–1", "1"),
        Column("dem_cell_m", Kind.FLOAT, "coarsest cell of the elevation model used", "m", nullable=True),
        Column("wetness", Kind.TEXT, "how wet it is, by weather, surface, season and lie", words=words(Wetness)),
        Column("wetness_mm", Kind.FLOAT, "antecedent rain index that this comes from", "mm"),
        Column(
            "twi",
            Kind.FLOAT,
            "topographic wetness index that a tenth of it is above; missing where it is not known",
            nullable=True,
        ),
    ),
)
"""One row a segment. ``grade_max_deg`` is the largest signed grade, ``grade_min_deg`` the smallest."""

STATIONS = Table(
    name="stations",
    columns=(
        SEGMENT_ID,
        Column("chainage_m", Kind.FLOAT, "plan distance from the segment's start", "m"),
        Column("x", Kind.FLOAT, "easting in the working CRS", "m"),
        Column("y", Kind.FLOAT, "northing in the working CRS", "m"),
        Column("z_m", Kind.FLOAT32, "height", "m", nullable=True),
        Column("bearing_deg", Kind.FLOAT32, "grid bearing of the with direction, clockwise from north", "deg"),
        Column("grade_deg", Kind.FLOAT32, "+ uphill in the with direction", "deg", nullable=True),
        Column(
            "side_slope_deg", Kind.FLOAT32, "+ ground rises to the right of the with direction", "deg", nullable=True
        ),
        Column("radius_m", Kind.FLOAT32, "plan radius, unsigned; inf where straight", "m"),
        Column(
            "grade_sd_deg",
            Kind.FLOAT32,
            "standard deviation of the grade, from the errors of heights and line",
            "deg",
            nullable=True,
        ),
        Column("side_slope_sd_deg", Kind.FLOAT32, "the same of the side slope", "deg", nullable=True),
    ),
)

CHECKS = Table(
    name="checks",
    key=("segment_id", "setup", "direction", "check"),
    columns=(
        SEGMENT_ID,
        SETUP,
        DIRECTION,
        Column("check", Kind.TEXT, "the limit looked at", words=words(CheckName)),
        Column("demand", Kind.FLOAT, "what the ground asks at the worst point", nullable=True),
        Column(
            "limit",
            Kind.FLOAT,
            "what the set-up can do there; for width and height, what the trail gives",
            nullable=True,
        ),
        Column("unit", Kind.TEXT, "unit of demand and limit"),
        Column(
            "limit_typical",
            Kind.FLOAT,
            "limit at the typical value of grip, where limit is that at its low value",
            nullable=True,
        ),
        Column("utilisation", Kind.FLOAT, "demand ÷ limit; 1 is the limit itself", "1", nullable=True),
        Column("at_m", Kind.FLOAT, "chainage of the worst point", "m", nullable=True),
        Column("verdict", Kind.TEXT, "for the set-up's driver", words=words(Verdict)),
        Column("basis", Kind.TEXT, "where the demand came from", words=tuple(b.word for b in Basis)),
        Column("demand_sd", Kind.FLOAT, "standard deviation of the demand; missing when not estimated", nullable=True),
        Column(
            "p_over", Kind.FLOAT, "probability of being over the limit; missing when not estimated", "1", nullable=True
        ),
        Column("reason", Kind.TEXT, "the verdict in a sentence"),
    ),
)

VERDICTS = Table(
    name="verdicts",
    key=("segment_id", "setup", "direction"),
    geometry=Geometry.LINE,
    columns=(
        SEGMENT_ID,
        SETUP,
        DIRECTION,
        Column("verdict", Kind.TEXT, "the worst of its checks", words=words(Verdict)),
        Column("utilisation", Kind.FLOAT, "of the check that decides; missing when none is known", "1", nullable=True),
        Column("check", Kind.TEXT, "the check that decides", words=words(CheckName)),
        Column("at_m", Kind.FLOAT, "chainage of the worst point", "m", nullable=True),
    ),
)

TECHNIQUES = Table(
    name="techniques",
    columns=(
        SEGMENT_ID,
        DIRECTION,
        Column("technique", Kind.TEXT, "skill exercised", words=words(Technique)),
        Column("from_m", Kind.FLOAT, "chainage where it begins, along the digitised direction", "m"),
        Column("to_m", Kind.FLOAT, "chainage where it ends, not less than from_m", "m"),
        Column("intensity", Kind.FLOAT, "how demanding, 0–1", "1"),
        Column("amount", Kind.FLOAT, "metres exercised, or 1 for a single thing", "m or 1"),
    ),
)

LOOPS = Table(
    name="loops",
    key=("loop", "rank"),
    geometry=Geometry.LINES,
    columns=(
        LOOP,
        RANK,
        Column("objective", Kind.TEXT, "what it was chosen for", words=words(Objective)),
        Column("length_m", Kind.FLOAT, "plan length", "m"),
        Column("time_min", Kind.FLOAT, "expected time, driving and coaching stops", "min"),
        Column("worst_utilisation", Kind.FLOAT, "largest utilisation of any leg, over all its set-ups", "1"),
        Column("exposure", Kind.FLOAT, "sum over legs of length × utilisation above the comfort floor", "m"),
        Column("value", Kind.FLOAT, "what the objective counts"),
        Column("bound", Kind.FLOAT, "best value that any loop could have"),
        Column("gap", Kind.FLOAT, "|bound − value| ÷ |value|", "1"),
        Column("proven", Kind.FLAG, "no better loop exists"),
        Column("bound_name", Kind.TEXT, "where the bound comes from"),
        Column("aim", Kind.TEXT, "aim of the course, by which techniques are weighed"),
        Column("laps", Kind.INTEGER, "times that the legs are driven; length, time and exposure count all of them"),
        Column("outlook", Kind.TEXT, "other weather that it was searched under; missing for the day's", nullable=True),
    ),
)

LEGS = Table(
    name="legs",
    key=("loop", "rank", "seq"),
    columns=(
        LOOP,
        RANK,
        Column("seq", Kind.INTEGER, "order along the loop, from 1"),
        SEGMENT_ID,
        DIRECTION,
        Column("start_m", Kind.FLOAT, "distance along the loop where the leg begins", "m"),
        Column("start_min", Kind.FLOAT, "minutes after the start when the leg begins", "min"),
        Column("verdicts", Kind.TEXT, "`setup: verdict` of each set-up, joined by `; `; `goes round` on a bypass"),
    ),
)

CALLS = Table(
    name="calls",
    key=("loop", "rank", "call"),
    geometry=Geometry.POINT,
    columns=(
        LOOP,
        RANK,
        Column("call", Kind.INTEGER, "number of the call, from 1"),
        Column("at_m", Kind.FLOAT, "distance along the loop", "m"),
        SEGMENT_ID,
        DIRECTION,
        Column("chainage_m", Kind.FLOAT, "where on the segment, along the digitised direction", "m"),
        Column(
            "technique", Kind.TEXT, "skill practised; missing for other calls", nullable=True, words=words(Technique)
        ),
        Column("coming", Kind.TEXT, "what is coming, with its size"),
        Column("before", Kind.TEXT, "what to do before it"),
        Column("spotter", Kind.FLAG, "a spotter stands outside here"),
    ),
)
"""The lines of a drive sheet, in driving order."""
