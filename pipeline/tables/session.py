"""Tables of what comes with a loop: what it teaches, how the time goes, who goes round what, who drives when."""

from pipeline.tables.columns import LOOP, RANK, SEGMENT_ID, SETUP
from pipeline.tables.contract import Column, Table, words
from pipeline.tables.kinds import Geometry, Kind
from pipeline.terms import Stop, Technique

__all__ = ["BYPASSES", "CONVOY", "PRACTICE", "SESSION"]

PRACTICE = Table(
    name="practice",
    key=("loop", "rank", "technique"),
    columns=(
        LOOP,
        RANK,
        Column("technique", Kind.TEXT, "skill practised", words=words(Technique)),
        Column("weight", Kind.INTEGER, "worth against the other techniques, by the loop's aim"),
        Column("available", Kind.FLOAT, "amount on all that the loop's set-ups may drive within the window", "m or 1"),
        Column("in_loop", Kind.FLOAT, "amount on the loop, every lap and both directions counted", "m or 1"),
        Column("fitting", Kind.FLOAT, "the same, weighed by how well it fits the drivers, repeats less", "m or 1"),
        Column("saturation", Kind.FLOAT, "amount after which more teaches nothing more", "m or 1"),
        Column("points", Kind.FLOAT, "what the loop gets for it"),
        Column("points_most", Kind.FLOAT, "what full practice gives"),
    ),
)
"""One row a technique of the aim, for every loop of either objective."""

SESSION = Table(
    name="session",
    key=("loop", "rank", "seq"),
    columns=(
        LOOP,
        RANK,
        Column("seq", Kind.INTEGER, "order, from 1"),
        Column("start_min", Kind.FLOAT, "minutes after the start when it begins", "min"),
        Column("for_min", Kind.FLOAT, "how long it takes; 0 for what is only passed", "min"),
        Column("at_m", Kind.FLOAT, "distance along the loop, laps counted", "m"),
        Column("stop", Kind.TEXT, "what the line is about", words=words(Stop)),
        Column("place", Kind.TEXT, "name of the place, or the segments that meet there"),
        Column("home_m", Kind.FLOAT, "quickest way home from here, missing where none is", "m", nullable=True),
        Column("home_min", Kind.FLOAT, "minutes of driving that it takes", "min", nullable=True),
        Column("text", Kind.TEXT, "the line in words"),
    ),
)
"""How the time of a loop goes, in driving order."""

BYPASSES = Table(
    name="bypasses",
    key=("loop", "rank", "bypass", "setup"),
    geometry=Geometry.LINES,
    columns=(
        LOOP,
        RANK,
        Column("bypass", Kind.INTEGER, "number of the bypass on the loop, from 1 in driving order"),
        SETUP,
        Column("split_node", Kind.INTEGER, "node where the set-up leaves the loop"),
        Column("meet_node", Kind.INTEGER, "node where it comes back"),
        Column("split_m", Kind.FLOAT, "distance along the loop where it leaves", "m"),
        Column("meet_m", Kind.FLOAT, "distance along the loop where it comes back", "m"),
        Column("way", Kind.TEXT, "`segment direction` of each leg of the way round, joined by `; `"),
        Column("length_m", Kind.FLOAT, "plan length of the way round", "m"),
        Column("time_min", Kind.FLOAT, "expected time of the way round", "min"),
        Column("others_min", Kind.FLOAT, "expected time of those who stay on the loop meanwhile", "min"),
        Column("waits_min", Kind.FLOAT, "+ the set-up waits for the others, − they wait for it", "min"),
        Column("worst_utilisation", Kind.FLOAT, "largest utilisation of the way round, of this set-up", "1"),
        Column("reason", Kind.TEXT, "why it goes round: segment, verdict and check"),
    ),
)

CONVOY = Table(
    name="convoy",
    key=("loop", "rank", "stretch"),
    columns=(
        LOOP,
        RANK,
        Column("stretch", Kind.INTEGER, "number of the stretch, from 1 in driving order"),
        SEGMENT_ID,
        Column("from_m", Kind.FLOAT, "distance along the loop where it begins", "m"),
        Column("to_m", Kind.FLOAT, "distance along the loop where it ends", "m"),
        Column("order", Kind.TEXT, "set-ups in the order in which they drive it, joined by `; `"),
        Column("one_at_a_time", Kind.FLAG, "the next begins when the one before has left the stretch"),
        Column("spacing_m", Kind.FLOAT, "least distance from vehicle to vehicle", "m"),
        Column("spotter_m", Kind.FLOAT, "distance along the loop where a spotter stands", "m", nullable=True),
        Column("spotter_for", Kind.TEXT, "set-ups that they guide, joined by `; `", nullable=True),
        Column("text", Kind.TEXT, "the stretch in words"),
    ),
)
"""Descents, and places with a spotter: how the group drives them."""
