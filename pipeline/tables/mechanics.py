"""Tables of the vehicle on the ground: poses, ways past things, stopping, what the elevation model carries."""

from pipeline.tables.columns import DIRECTION, SEGMENT_ID, SETUP
from pipeline.tables.contract import Column, Table, words
from pipeline.tables.kinds import Kind
from pipeline.terms import CheckName, Passing, Support, Verdict, Wheel

__all__ = ["COMPARISONS", "FITNESS", "PASSINGS", "POSES", "STOPPING"]

_WHEELS = tuple(wheel.word for wheel in Wheel)

POSES = Table(
    name="poses",
    key=("segment_id", "setup", "direction"),
    columns=(
        SEGMENT_ID,
        SETUP,
        DIRECTION,
        Column("check", Kind.TEXT, "the check whose worst place this is", words=words(CheckName)),
        Column("at_m", Kind.FLOAT, "chainage of the worst point", "m"),
        Column("rear_m", Kind.FLOAT, "chainage below the middle of the rear axle", "m"),
        Column("front_m", Kind.FLOAT, "the same of the front axle", "m"),
        Column("pitch_deg", Kind.FLOAT, "+ nose up", "deg"),
        Column("roll_deg", Kind.FLOAT, "+ right side down, seen in the direction of travel", "deg", nullable=True),
        Column("twist_m", Kind.FLOAT, "(front left − front right) − (rear left − rear right)", "m", nullable=True),
        Column("front_left_m", Kind.FLOAT, "ground under the wheel, over the mean of the four", "m", nullable=True),
        Column("front_right_m", Kind.FLOAT, "the same", "m", nullable=True),
        Column("rear_left_m", Kind.FLOAT, "the same", "m", nullable=True),
        Column("rear_right_m", Kind.FLOAT, "the same", "m", nullable=True),
        Column("lifted", Kind.TEXT, "the wheel in the air; missing when all stand", nullable=True, words=_WHEELS),
        Column("stability_deg", Kind.FLOAT, "least force angle left before it tips", "deg", nullable=True),
    ),
)
"""One row where a set-up stands at the worst place of the check that decides a segment."""

PASSINGS = Table(
    name="passings",
    key=("obstacle_id", "segment_id", "setup", "direction"),
    columns=(
        Column("obstacle_id", Kind.TEXT, "the thing in the way"),
        SEGMENT_ID,
        SETUP,
        DIRECTION,
        Column("at_m", Kind.FLOAT, "chainage of its middle", "m"),
        Column("passing", Kind.TEXT, "what to do about it", words=words(Passing)),
        Column(
            "shift_m", Kind.FLOAT, "how far right of the middle of the trail to drive, in travel", "m", nullable=True
        ),
        Column(
            "wheels", Kind.TEXT, "side whose wheels meet it in travel", nullable=True, words=("left", "right", "both")
        ),
        Column("spare_m", Kind.FLOAT, "room left: over it, beside it, or of the climb on to it", "m", nullable=True),
        Column("speed_kmh", Kind.FLOAT, "fastest speed at which the springs leave the gap", "km/h", nullable=True),
        Column("reason", Kind.TEXT, "the advice in a sentence, with its figures"),
    ),
)
"""One row a thing in the way, set-up and direction."""

STOPPING = Table(
    name="stopping",
    key=("segment_id", "setup", "direction"),
    columns=(
        SEGMENT_ID,
        SETUP,
        DIRECTION,
        Column("grade_deg", Kind.FLOAT, "steepest descent in travel, positive; 0 where it never falls", "deg"),
        Column("at_m", Kind.FLOAT, "chainage of it", "m", nullable=True),
        Column("speed_kmh", Kind.FLOAT, "speed that is braked from", "km/h"),
        Column("reaction_m", Kind.FLOAT, "driven before the brakes bite", "m"),
        Column("brake_low_m", Kind.FLOAT, "braking distance at the low value of grip; inf: it cannot stop", "m"),
        Column("brake_typical_m", Kind.FLOAT, "the same at the typical value", "m"),
    ),
)
"""One row a segment with known slopes, set-up and direction."""

FITNESS = Table(
    name="fitness",
    key=("setup", "check", "cell_m"),
    columns=(
        SETUP,
        Column("check", Kind.TEXT, "the check", words=words(CheckName)),
        Column("cell_m", Kind.FLOAT, "cell of the elevation model; 0 for lines of survey grade", "m"),
        Column("length_m", Kind.FLOAT, "length of trail measured with it", "m"),
        Column("needed_cell_m", Kind.FLOAT, "coarsest cell that shows what the check asks for", "m", nullable=True),
        Column(
            "demand_sd", Kind.FLOAT, "typical standard deviation of the demand, in the unit of the check", nullable=True
        ),
        Column("limit", Kind.FLOAT, "typical limit", nullable=True),
        Column("unit", Kind.TEXT, "unit of both"),
        Column("support", Kind.TEXT, "what the model can carry", words=words(Support)),
        Column("reason", Kind.TEXT, "why, in a sentence"),
    ),
)
"""One row a set-up, check and cell size in use: which checks the elevation model can and cannot support."""

COMPARISONS = Table(
    name="comparisons",
    key=("comparison", "segment_id", "direction"),
    columns=(
        Column("comparison", Kind.TEXT, "name of the comparison, from the settings"),
        SETUP,
        SEGMENT_ID,
        DIRECTION,
        Column("before", Kind.TEXT, "verdict as the set-up stands", words=words(Verdict)),
        Column("after", Kind.TEXT, "verdict with the change", words=words(Verdict)),
        Column("check", Kind.TEXT, "the check that makes the difference", words=words(CheckName)),
        Column("used_before", Kind.FLOAT, "utilisation ÷ share of the driver before", "1", nullable=True),
        Column("used_after", Kind.FLOAT, "the same after", "1", nullable=True),
        Column("reason", Kind.TEXT, "the change in a sentence"),
    ),
)
"""One row a segment and direction whose verdict a change of load, rain or driver changes."""
