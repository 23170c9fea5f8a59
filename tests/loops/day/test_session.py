"""The plan of a session, by hand and by what must hold on every one."""

from itertools import pairwise

import pandas as pd
import pytest

from pipeline.loops.assemble import make_record
from pipeline.loops.day.session import session_rows, session_table
from pipeline.loops.day.ways_out import ways_home
from pipeline.loops.settings import LoopSettings
from pipeline.loops.solve.hunt import training_rich
from pipeline.terms import Stop
from tests.loops.day.worlds import OUTING, outing
from tests.loops.parts import plan_of
from tests.loops.worlds import World, ground, tiny


def stops(table: pd.DataFrame, *kinds: Stop) -> pd.DataFrame:
    """Give the lines of some kinds."""
    return table[table["stop"].isin([kind.value for kind in kinds])]


def test_everything_in_its_place(settings: LoopSettings) -> None:
    """One lap by hand: kinds and distances in driving order."""
    plan, answer, inputs = outing(settings)
    table = session_table(session_rows(plan, answer, 1, inputs))
    told = list(zip(table["stop"], table["at_m"].round(6), table["place"], strict=True))
    assert told == [
        ("start", 0.0, "Yard"),
        ("coaching", 0.0, "s000"),
        ("last turn", 400.0, "s000 / s001"),
        ("coaching", 400.0, "s001"),
        ("coaching", 400.0, "s001"),
        ("split", 800.0, "s002"),
        ("coaching", 800.0, "s002"),
        ("meet", 1100.0, "s002"),
        ("turn-round", 1100.0, "s002 / s004"),
        ("coaching", 1100.0, "s004"),
        ("place", 1500.0, "Muster"),
        ("finish", 1900.0, "Yard"),
    ]
    assert table["seq"].tolist() == list(range(1, 13))


def test_texts(settings: LoopSettings) -> None:
    """Words of the lines that tell of ways and waiting: 8 km/h with the wagon, 12 km/h for the truck alone."""
    plan, answer, inputs = outing(settings)
    table = session_table(session_rows(plan, answer, 1, inputs)).set_index("stop")["text"]
    assert table["start"] == "1900 m, 22 min: 14 min driving, 6 min coaching and 2 min waiting"
    # Home: 150 m at 8 km/h. On the loop: 400 m, the wagon's 600 m, 400 m, 400 m.
    assert table["last turn"] == ("last way out: home over Short cut: 150 m, 1.1 min of driving, 14 min on the loop")
    assert table["split"] == "wagon goes round over s003, 600 m, 4.5 min"
    assert table["meet"] == "all together again with wagon; truck waits 2 min"
    assert table["turn-round"] == "room to turn round"
    assert table["place"] == "pass Muster"
    assert table["finish"] == "back after 22 min"
    assert "talk about cross-axle: 1 min on s002" in table["coaching"].tolist()


def test_nobody_is_sent_home_from_amid_a_split(settings: LoopSettings) -> None:
    """While the group is split no way home is told; elsewhere one is, from inside a leg too."""
    plan, answer, inputs = outing(settings)
    table = session_table(session_rows(plan, answer, 1, inputs))
    amid = table["at_m"].between(800.0, 1099.0) & table["stop"].isin(["split", "coaching"])
    assert table["home_m"].isna().tolist() == amid.tolist()
    at_ford = table[(table["at_m"] == 400.0) & (table["stop"] == "coaching")].iloc[0]
    onward = ways_home(plan).after(answer.numbers[1])
    assert at_ford["home_m"] == pytest.approx(400.0 + onward.length_m)


def test_laps(settings: LoopSettings) -> None:
    """Each lap has its stops; the last turn is that of the last lap; a lap tells what coaching takes."""
    plan, answer, inputs = outing(settings, laps=3)
    table = session_table(session_rows(plan, answer, 1, inputs))
    assert stops(table, Stop.LAP)["at_m"].tolist() == pytest.approx([1900.0, 3800.0])
    assert stops(table, Stop.WAY_OUT)["at_m"].tolist() == pytest.approx([400.0, 2300.0])
    assert stops(table, Stop.LAST_TURN)["at_m"].tolist() == pytest.approx([4200.0])
    assert len(stops(table, Stop.COACHING)) == 3 * 5
    assert stops(table, Stop.LAP)["text"].iloc[0].startswith("lap 2 of 3 begins; coaching takes 25%")
    assert table["text"].iloc[0].startswith("5700 m in 3 laps, ")


@pytest.mark.parametrize(("world", "laps"), [(tiny(0), 1), (tiny(2), 2), (tiny(3), 1), (ground(40, 1), 1), (OUTING, 2)])
def test_what_holds_on_every_plan(settings: LoopSettings, world: World, laps: int) -> None:
    """Clock and distance never run back; the finish is what LOOPS tells; stops last what coaching does.

    A way out must leave the loop, save a minute, and lie at a place from where the rest of the lap takes longer.
    """
    plan = plan_of(world, settings, (400.0, 4000.0), laps=laps, max_redriven=0.6)
    answer = training_rich(plan.quest)
    assert answer is not None
    table = session_table(session_rows(plan, answer, 2, world.inputs(settings)))
    row = make_record(plan, answer, 2).row
    assert table["stop"].iloc[[0, -1]].tolist() == ["start", "finish"]
    assert table["start_min"].iloc[-1] == pytest.approx(row["time_min"], rel=1e-9)
    assert table["at_m"].iloc[-1] == pytest.approx(row["length_m"], rel=1e-9)
    for key in ("start_min", "at_m"):
        assert all(a <= b + 1e-9 for a, b in pairwise(table[key].tolist()))
    assert (table["start_min"] + table["for_min"]).iloc[:-1].max() <= row["time_min"] + 1e-9
    once = sum(max(plan.traversals[n].coaching) for n in answer.numbers if not plan.moves[n].rounds)
    assert stops(table, Stop.COACHING)["for_min"].sum() >= once - 1e-9
    ways = stops(table, Stop.WAY_OUT, Stop.LAST_TURN)
    assert (len(stops(table, Stop.LAST_TURN)) == 1) == (len(ways) > 0)
    assert (ways["home_min"] <= row["time_min"] - ways["start_min"] - 1.0 + 1e-9).all()
    if len(ways):
        assert ways["stop"].iloc[-1] == Stop.LAST_TURN.value


def test_last_turn_is_the_last_place_that_saves_time(settings: LoopSettings) -> None:
    """After the last turn no end of a move may have a way home that leaves the loop and saves a minute."""
    plan = plan_of(ground(40, 1), settings, (1500.0, 6000.0))
    answer = training_rich(plan.quest)
    assert answer is not None
    table = session_table(session_rows(plan, answer, 1, ground(40, 1).inputs(settings)))
    last = stops(table, Stop.LAST_TURN)["at_m"].item()
    ways, at = ways_home(plan), 0.0
    good = []
    for place, number in enumerate(answer.numbers[:-1], start=1):
        at += plan.traversals[number].length_m
        home, rest = ways.after(number), sum(ways.driving[n] for n in answer.numbers[place:])
        if home.numbers[:1] != answer.numbers[place : place + 1] and rest - home.minutes >= 1.0:
            good.append(at)
    assert last == pytest.approx(good[-1])
    assert stops(table, Stop.WAY_OUT)["at_m"].tolist() == pytest.approx(good[:-1])


def test_no_rows_give_an_empty_table() -> None:
    """Where no loop was found the table must be there, and empty."""
    assert session_table([]).empty
