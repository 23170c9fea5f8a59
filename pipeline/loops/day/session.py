"""The plan of a session: when the group stops where, and where it can give up.

Every line stands at a distance along the loop and at minutes after the start. A
*way out* is a place where the quickest way home leaves the loop and saves at
least a minute of driving against the rest of the lap; the *last turn* is the
last of them. Stops are those of the calls on each leg.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property

import pandas as pd

from pipeline.loops.calls import Lesson
from pipeline.loops.day.timeline import LegTime, staying, timeline
from pipeline.loops.day.ways_out import Home, Ways, ways_home
from pipeline.loops.day.wording import count, metres, minutes, named, over, spent
from pipeline.loops.moves import Move
from pipeline.loops.plan import Plan
from pipeline.loops.request import LoopInputs
from pipeline.loops.solve.hunt import Answer
from pipeline.tables import SESSION, empty, validate
from pipeline.terms import Stop

__all__ = ["session_rows", "session_table"]

_SAVES_MIN = 1.0
"""A way out that saves less is not worth naming."""
_AT_HOME = Home((), 0.0, 0.0)


@dataclass(frozen=True, slots=True)
class _Line:
    """One line of the plan."""

    stop: Stop
    start_min: float
    at_m: float
    place: str
    text: str
    for_min: float = 0.0
    home: Home | None = None


def session_rows(plan: Plan, answer: Answer, rank: int, inputs: LoopInputs) -> list[dict[str, object]]:
    """Write the plan of the session on one loop, every lap of it.

    Parameters
    ----------
    plan
        The request made ready.
    answer
        The loop.
    rank
        Its rank among the alternatives.
    inputs
        Names of trails and places, room to turn, drivers and their coaching.

    Returns
    -------
    list
        Rows of SESSION. The last one, the finish, begins at the minutes that LOOPS tells.
    """
    lines = list(_Session(plan, answer, inputs).lines())
    out = [number for number, line in enumerate(lines) if line.stop is Stop.WAY_OUT]
    return [
        {
            "loop": plan.request.name,
            "rank": rank,
            "seq": number + 1,
            "start_min": line.start_min,
            "for_min": line.for_min,
            "at_m": line.at_m,
            "stop": (Stop.LAST_TURN if number in out[-1:] else line.stop).value,
            "place": line.place,
            "home_m": None if line.home is None else line.home.length_m,
            "home_min": None if line.home is None else line.home.minutes,
            "text": f"last {line.text}" if number in out[-1:] else line.text,
        }
        for number, line in enumerate(lines)
    ]


def session_table(rows: Iterable[dict[str, object]]) -> pd.DataFrame:
    """Make the table SESSION, checked against its contract."""
    frame = pd.DataFrame(list(rows), columns=list(SESSION.names))
    if frame.empty:
        return empty(SESSION)
    return validate(frame.astype({column.name: column.kind.dtype for column in SESSION.columns}), SESSION)


@dataclass(frozen=True)
class _Session:
    """One loop with what its plan is made of."""

    plan: Plan
    answer: Answer
    inputs: LoopInputs

    @cached_property
    def ways(self) -> Ways:
        """The ways home."""
        return ways_home(self.plan)

    @cached_property
    def legs(self) -> tuple[LegTime, ...]:
        """Every leg of every lap."""
        return timeline(self.plan, self.answer)

    @cached_property
    def trails(self) -> dict[str, str]:
        """Segment id → name of the trail, or the id."""
        columns = self.inputs.network.segments[["segment_id", "name"]].itertuples(index=False, name=None)
        return {str(segment): str(segment) if pd.isna(name) else str(name) for segment, name in columns}

    @cached_property
    def places(self) -> dict[int, str]:
        """Node → its name, where it has one."""
        nodes = self.inputs.network.nodes.dropna(subset="name")
        return {int(n): str(w) for n, w in nodes[["node_id", "name"]].itertuples(index=False, name=None)}

    @cached_property
    def turning(self) -> frozenset[int]:
        """Nodes with room to turn."""
        nodes = self.inputs.network.nodes
        return frozenset(int(node) for node in nodes.loc[nodes["turn_round"], "node_id"])

    def lines(self) -> Iterator[_Line]:
        """Yield the lines in driving order."""
        yield self._start()
        for leg, after in zip(self.legs, [*self.legs[1:], None], strict=True):
            move = self._move(leg)
            if move.rounds and leg.number == move.path[0]:
                yield self._split(leg, move)
            yield from self._coaching(leg)
            if move.rounds and leg.number == move.path[-1]:
                yield self._meet(leg, move)
            if after is None or after.lap > leg.lap:
                yield self._home(leg, after)
            else:
                yield from self._passed(leg, after)

    def _move(self, leg: LegTime) -> Move:
        """Give the move that a leg belongs to."""
        return self.plan.moves[self.answer.numbers[leg.place]]

    def _way(self, path: Iterable[int]) -> str:
        """Name the trails of some traversals."""
        return over(self.trails[self.plan.traversals[number].segment_id] for number in path)

    def _start(self) -> _Line:
        """Begin, with what the session adds up to."""
        first, last = self.legs[0], self.legs[-1]
        length = last.start_m + self.plan.traversals[last.number].length_m
        laps = f" in {count(last.lap, 'lap')}" if last.lap > 1 else ""
        parts = {
            "driving": sum(leg.driving_min for leg in self.legs),
            "coaching": sum(leg.coaching_min for leg in self.legs),
            "waiting": sum(leg.waits_min for leg in self.legs),
        }
        told = spent({word: amount for word, amount in parts.items() if amount > 0.0})
        text = f"{metres(length)}{laps}, {last.end_min:.0f} min: {named(told)}"
        trailhead = self.plan.traversals[first.number]
        return _Line(Stop.START, 0.0, 0.0, self._place(trailhead.tail, (first,)), text, home=_AT_HOME)

    def _place(self, node: int, legs: Iterable[LegTime]) -> str:
        """Name a node, by the segments of the *legs* that meet there where it has no name."""
        segments = dict.fromkeys(self.plan.traversals[leg.number].segment_id for leg in legs)
        return self.places.get(node) or " / ".join(segments)

    def _coaching(self, leg: LegTime) -> Iterator[_Line]:
        """Yield the stops of a leg, spread as its driving is."""
        traversal = self.plan.traversals[leg.number]
        whole = sum(lesson.minutes for lesson in traversal.lessons)
        stood = 0.0
        for lesson in traversal.lessons if leg.coaching_min > 0.0 else ():
            if not lesson.minutes:
                continue
            for_min = leg.coaching_min * lesson.minutes / whole
            driven = leg.driving_min * lesson.at_m / traversal.length_m
            yield _Line(
                Stop.COACHING,
                leg.start_min + driven + stood,
                leg.start_m + lesson.at_m,
                traversal.segment_id,
                self._lesson(lesson, for_min, traversal.segment_id),
                for_min,
                self._from_inside(leg, leg.driving_min - driven, traversal.length_m - lesson.at_m),
            )
            stood += for_min

    def _lesson(self, lesson: Lesson, for_min: float, segment_id: str) -> str:
        """Say what a stop is about."""
        also = f", also {named([skill.value for skill in lesson.besides])}" if lesson.besides else ""
        return f"talk about {lesson.technique.value}{also}: {minutes(for_min)} on {self.trails[segment_id]}"

    def _from_inside(self, leg: LegTime, left_min: float, left_m: float) -> Home | None:
        """Give the way home from inside a leg: on to its end, then home; ``None`` while the group is split."""
        if self._move(leg).rounds:
            return None
        home = self.ways.after(self.answer.numbers[leg.place])
        return Home((leg.number, *home.numbers), home.length_m + left_m, home.minutes + left_min)

    def _split(self, leg: LegTime, move: Move) -> _Line:
        """Say who leaves the loop, and on which way."""
        texts = []
        for one in move.rounds:
            setup = self.plan.request.setups[one.setup]
            legs = [self.plan.traversals[number] for number in one.path]
            took = sum(t.driving[one.setup] + t.coaching[one.setup] for t in legs)
            length = metres(sum(t.length_m for t in legs))
            way = f"goes round over {self._way(one.path)}, {length}, {minutes(took)}" if legs else "waits here"
            texts.append(f"{setup} {way}")
        node = self.plan.traversals[leg.number].tail
        return _Line(Stop.SPLIT, leg.start_min, leg.start_m, self._place(node, (leg,)), "; ".join(texts))

    def _meet(self, leg: LegTime, move: Move) -> _Line:
        """Say who comes back to the loop, and who waits for whom."""
        away = named([self.plan.request.setups[one.setup] for one in move.rounds])
        stay = staying(move, len(self.plan.request.setups))
        text = f"all together again with {away}"
        if leg.waits_min > 0.0:
            others = named([self.plan.request.setups[setup] for setup in stay])
            text += f"; {others} {'waits' if len(stay) == 1 else 'wait'} {minutes(leg.waits_min)}"
        traversal = self.plan.traversals[leg.number]
        begins = leg.end_min - leg.waits_min
        place = self._place(traversal.head, (leg,))
        home = self.ways.after(self.answer.numbers[leg.place])
        return _Line(Stop.MEET, begins, leg.start_m + traversal.length_m, place, text, leg.waits_min, home)

    def _home(self, leg: LegTime, after: LegTime | None) -> _Line:
        """End a lap, or the session."""
        traversal = self.plan.traversals[leg.number]
        place = self._place(traversal.head, (leg,))
        if after is None:
            stop, text = Stop.FINISH, f"back after {minutes(leg.end_min)}"
        else:
            share = f"; coaching takes {self.plan.terms.again:.0%} of the first lap's time"
            stop, text = Stop.LAP, f"lap {after.lap} of {self.plan.terms.laps} begins{share}"
        return _Line(stop, leg.end_min, leg.start_m + traversal.length_m, place, text, home=_AT_HOME)

    def _passed(self, leg: LegTime, after: LegTime) -> Iterator[_Line]:
        """Yield what is passed between two legs: a named place, room to turn, a way out."""
        node = self.plan.traversals[leg.number].head
        place, at = self._place(node, (leg, after)), after.start_m
        whole = after.place != leg.place
        home = self.ways.after(self.answer.numbers[leg.place]) if whole else None
        if node in self.places:
            yield _Line(Stop.PLACE, leg.end_min, at, place, f"pass {place}", home=home)
        if node in self.turning:
            text = "turn round here" if after.number == leg.number ^ 1 else "room to turn round"
            yield _Line(Stop.TURN_ROUND, leg.end_min, at, place, text, home=home)
        if home is not None and self._saves(leg, home):
            yield _Line(Stop.WAY_OUT, leg.end_min, at, place, self._way_out(leg, home), home=home)

    def _rest_min(self, leg: LegTime) -> float:
        """Sum the minutes of driving from the end of a move to the end of the lap."""
        return sum(self.ways.driving[number] for number in self.answer.numbers[leg.place + 1 :])

    def _saves(self, leg: LegTime, home: Home) -> bool:
        """Tell whether the quickest way home leaves the loop here and saves time."""
        leaves = home.numbers[:1] != self.answer.numbers[leg.place + 1 : leg.place + 2]
        return leaves and self._rest_min(leg) - home.minutes >= _SAVES_MIN

    def _way_out(self, leg: LegTime, home: Home) -> str:
        """Say how to give up here."""
        if not home.numbers:
            return f"way out: the trailhead itself, {minutes(self._rest_min(leg))} of driving left on the loop"
        path = [part for number in home.numbers for part in self.plan.moves[number].path]
        back = "turn back, " if path[0] == leg.number ^ 1 else ""
        spent = f"{metres(home.length_m)}, {minutes(home.minutes)} of driving"
        return f"way out: {back}home over {self._way(path)}: {spent}, {minutes(self._rest_min(leg))} on the loop"
