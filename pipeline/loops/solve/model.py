"""The loop as a mixed-integer linear model: a flow of the slack still to spend, over turns.

For the arcs that survived the pruning, with turns (a, b), starts (0, b) and ends (a, 0):

* ``x_a`` ∈ {0, 1}: arc *a* is driven; ``s_ab`` ∈ {0, 1}: *b* follows *a*;
* one start, one end, and Σ_p s_pa = x_a = Σ_b s_ab for every arc;
* ``g_ab`` ≥ 0: what may still be spent on detours when *a* ends and *b* begins.

A loop of the remaining-distance model carries the distance still to drive on
every turn: f_ab with Σ_p f_pa − Σ_b f_ab = c_a x_a. With H_a, the shortest way
home after *a* under the turn rules, every loop has f_ab ≥ (c_b + H_b) s_ab, so
f_ab = (c_b + H_b) s_ab + g_ab with g_ab ≥ 0, and the balance becomes

    Σ_p g_pa − Σ_b g_ab = Σ_b (c_b + H_b − H_a) s_ab        (ends: g_a0 = 0)
    g_ab ≤ (longest − there_a − c_b − H_b) s_ab

The bracket in the balance is the detour that the turn (a, b) makes: never
negative, and around any cycle it sums to the cycle's cost > 0. So a cycle cut
off from the trailhead would need slack from nowhere: one inequality a turn
keeps the walk in one piece. (Miller, Tucker and Zemlin's order variables, in
the single-commodity flow form of Gavish and Graves, 1978; from memory, not
verified.)

Scales: distances enter in km, times in hours, so that coefficients stay near 1.
"""

from dataclasses import dataclass, replace

import highspy
import numpy as np
from numpy.typing import NDArray

from pipeline.loops.graph import Arcs
from pipeline.loops.solve.rows import Columns, Rows, to_lp
from pipeline.loops.solve.rules import Rules
from pipeline.loops.solve.turns import Reach, Turns, measure
from pipeline.loops.value.objective import PIECE_CREDITS, PIECES, GainCurve

__all__ = ["Goal", "LoopModel", "Problem", "build_balance", "build_model", "columns_of_walk", "walk_of_columns"]

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
INFINITE = float("inf")
TIE = 0.99
"""What a loop as long as may be costs more than one of no length, units of the goal."""
DM_PER_KM = 10_000.0
S_PER_H = 3600.0


@dataclass(frozen=True, slots=True)
class Goal:
    """What is made small or large; exactly one of ``cost`` and ``curve`` is given."""

    cost: Ints | None = None
    """Minimise the sum of this over the driven arcs; shape (arcs,)."""
    curve: GainCurve | None = None
    """Maximise the gain of the practised techniques."""
    shorter: bool = True
    """Among loops of equal value prefer the shorter; off where any loop will do."""

    @property
    def maximises(self) -> bool:
        """Whether more is better."""
        return self.curve is not None

    @property
    def tie(self) -> float:
        """Weight of the way as a share of the longest loop: less than 1, so it never outweighs a whole unit."""
        return TIE if self.shorter else 0.0

    def value(self, arcs: Arcs, walk: Ints) -> int:
        """Give the value of a walk, in whole units of the goal."""
        if self.curve is not None:
            return self.curve.units(arcs.credits_on(walk))
        return 0 if self.cost is None else int(self.cost[walk].sum())


@dataclass(frozen=True, slots=True)
class Problem:
    """One model to solve: pruned arcs and turns, rules, goal."""

    arcs: Arcs
    turns: Turns
    rules: Rules
    goal: Goal

    @property
    def cost(self) -> Ints:
        """What the flow carries, dm or s, shape (arcs,)."""
        return self.arcs.length_dm if self.rules.flows_by_length else self.arcs.time_s

    @property
    def longest(self) -> int:
        """Largest sum of ``cost`` that any loop may have, dm or s."""
        window = self.rules.length_dm if self.rules.flows_by_length else self.rules.time_s
        total = int(self.cost.sum())
        return total if window is None else min(total, window[1])


@dataclass(frozen=True, slots=True)
class LoopModel:
    """The linear model and where its columns stand."""

    lp: highspy.HighsLp
    problem: Problem
    reach: Reach
    driven: Ints
    """x, one an arc."""
    turn: Ints
    """s of the turns."""
    start: Ints
    """s of the starts."""
    end: Ints
    """s of the ends."""
    slack: Ints
    """g of the turns."""
    start_slack: Ints
    """g of the starts."""
    twice: Ints
    """Both arcs driven, one for each pair of ``pairs``."""
    pairs: Ints
    """Rows of ``Arcs.pairs`` that matter: the share is limited, or something is lost by repeating."""
    filled: Ints
    """Credits in each piece of the curve, shape (techniques, pieces); empty without a curve."""


def build_model(problem: Problem) -> LoopModel:
    """Build the model of *problem*."""
    arcs, turns, rules, goal = problem.arcs, problem.turns, problem.rules, problem.goal
    reach = measure(arcs, turns, problem.cost)
    scale = DM_PER_KM if rules.flows_by_length else S_PER_H
    columns, rows = Columns(), Rows()
    curve = goal.curve
    room, start_room = _rooms(problem, reach)
    pairs = _pairs(problem)
    slopes = np.empty((0, PIECES)) if curve is None else curve.slopes.astype(np.float64)
    model = LoopModel(
        lp=highspy.HighsLp(),
        problem=problem,
        reach=reach,
        driven=columns.block(len(arcs), 1.0, cost=_arc_cost(problem), whole=True),
        turn=columns.block(len(turns.first), 1.0, whole=True),
        start=columns.block(len(turns.starts), 1.0, whole=True),
        end=columns.block(len(turns.ends), 1.0, whole=True),
        slack=columns.block(len(turns.first), room / scale),
        start_slack=columns.block(len(turns.starts), start_room / scale),
        twice=columns.block(len(pairs), 1.0),
        pairs=pairs,
        filled=columns.block(slopes.size, PIECE_CREDITS, cost=slopes.ravel()).reshape(slopes.shape),
    )
    _add_walk(rows, model)
    _add_flow(rows, model, room / scale, start_room / scale, scale)
    _add_pairs(rows, model)
    _add_rules(rows, model)
    _add_gain(rows, model, curve)
    return replace(model, lp=to_lp(rows, columns, maximise=goal.maximises))


def build_balance(problem: Problem) -> highspy.HighsLp:
    """Build the small relaxation without turns: what comes into a place goes out of it, and every rule is kept."""
    arcs, goal = problem.arcs, problem.goal
    columns, rows = Columns(), Rows()
    none, pairs = np.empty(0, dtype=np.int64), _pairs(problem)
    slopes = np.empty((0, PIECES)) if goal.curve is None else goal.curve.slopes.astype(np.float64)
    model = LoopModel(
        lp=highspy.HighsLp(),
        problem=problem,
        reach=Reach(none, none),
        driven=columns.block(len(arcs), 1.0, cost=_arc_cost(problem)),
        turn=none,
        start=none,
        end=none,
        slack=none,
        start_slack=none,
        twice=columns.block(len(pairs), 1.0),
        pairs=pairs,
        filled=columns.block(slopes.size, PIECE_CREDITS, cost=slopes.ravel()).reshape(slopes.shape),
    )
    rings = arcs.tail == arcs.head
    row = rows.block(len(arcs.nodes), 0.0, 0.0)
    rows.put(row + arcs.tail[~rings], model.driven[~rings], 1.0)
    rows.put(row + arcs.head[~rings], model.driven[~rings], -1.0)
    rows.put(rows.block(1, 1.0, INFINITE), model.driven[problem.turns.starts], 1.0)
    _add_pairs(rows, model)
    _add_rules(rows, model)
    _add_gain(rows, model, goal.curve)
    return to_lp(rows, columns, maximise=goal.maximises)


def _pairs(problem: Problem) -> Ints:
    """Give the pairs of arcs that the rules or the goal look at."""
    pairs = problem.arcs.pairs
    matters = (pairs.length_dm > 0) & (problem.rules.redriven < 1.0)
    if problem.goal.curve is not None:
        matters |= pairs.lost.any(axis=1)
    return np.flatnonzero(matters).astype(np.int64)


def _arc_cost(problem: Problem) -> Floats:
    """Give the cost of driving each arc: the goal's, and a little for its way so that ties go to the shorter."""
    goal = problem.goal
    way = goal.tie * problem.cost / problem.longest
    return -way if goal.cost is None else goal.cost + way


def _rooms(problem: Problem, reach: Reach) -> tuple[Floats, Floats]:
    """Give the largest slack on each turn and each start, in the unit of the flow."""
    first, second, starts = problem.turns.first, problem.turns.second, problem.turns.starts
    after = problem.cost + reach.home
    room = problem.longest - reach.there[first] - after[second]
    return np.maximum(0, room).astype(np.float64), np.maximum(0, problem.longest - after[starts]).astype(np.float64)


def _add_walk(rows: Rows, model: LoopModel) -> None:
    """One start, one end; every driven arc is entered once and left once."""
    turns, count = model.problem.turns, len(model.problem.arcs)
    rows.put(rows.block(1, 1.0, 1.0), model.start, 1.0)
    rows.put(rows.block(1, 1.0, 1.0), model.end, 1.0)
    for near, at_turn, ends, at_end in (
        (turns.second, model.turn, turns.starts, model.start),
        (turns.first, model.turn, turns.ends, model.end),
    ):
        row = rows.block(count, 0.0, 0.0)
        rows.put(row + near, at_turn, 1.0)
        rows.put(row + ends, at_end, 1.0)
        rows.put(row + np.arange(count), model.driven, -1.0)


def _add_flow(rows: Rows, model: LoopModel, room: Floats, start_room: Floats, scale: float) -> None:
    """Slack balance on every arc, and slack only on turns that are made."""
    turns, count = model.problem.turns, len(model.problem.arcs)
    cost, home = model.problem.cost, model.reach.home
    detour = (cost[turns.second] + home[turns.second] - home[turns.first]) / scale
    row = rows.block(count, 0.0, INFINITE)
    rows.put(row + turns.second, model.slack, 1.0)
    rows.put(row + turns.starts, model.start_slack, 1.0)
    rows.put(row + turns.first, model.slack, -1.0)
    rows.put(row + turns.first, model.turn, -detour)
    for made, slack, most in ((model.turn, model.slack, room), (model.start, model.start_slack, start_room)):
        row = rows.block(len(slack), -INFINITE, 0.0)
        rows.put(row + np.arange(len(slack)), slack, 1.0)
        rows.put(row + np.arange(len(slack)), made, -most)


def _add_pairs(rows: Rows, model: LoopModel) -> None:
    """No traversal twice; what drives a segment in both directions, and how much of it may."""
    arcs, rules = model.problem.arcs, model.problem.rules
    clashes = arcs.clashes
    row = rows.block(len(clashes), -INFINITE, 1.0) + np.arange(len(clashes))
    rows.put(row, model.driven[clashes[:, 0]], 1.0)
    rows.put(row, model.driven[clashes[:, 1]], 1.0)
    both = arcs.pairs.arcs[model.pairs]
    row = rows.block(len(both), -INFINITE, 1.0) + np.arange(len(both))
    rows.put(row, model.driven[both[:, 0]], 1.0)
    rows.put(row, model.driven[both[:, 1]], 1.0)
    rows.put(row, model.twice, -1.0)
    if rules.redriven < 1.0 and len(both):
        share = rows.block(1, -INFINITE, 0.0)
        rows.put(share, model.twice, arcs.pairs.length_dm[model.pairs] / DM_PER_KM)
        rows.put(share, model.driven, -rules.redriven * arcs.length_dm / DM_PER_KM)


def _add_rules(rows: Rows, model: LoopModel) -> None:
    """Windows, must, overlap with earlier loops."""
    arcs, rules = model.problem.arcs, model.problem.rules
    length = arcs.length_dm / DM_PER_KM
    if rules.length_dm is not None:
        low, high = rules.length_dm
        rows.put(rows.block(1, low / DM_PER_KM, high / DM_PER_KM), model.driven, length)
    if rules.time_s is not None:
        low, high = rules.time_s
        rows.put(rows.block(1, low / S_PER_H, high / S_PER_H), model.driven, arcs.time_s / S_PER_H)
    for _, group in rules.must:
        rows.put(rows.block(1, 1.0, INFINITE), model.driven[rules.member(arcs, group)], 1.0)
    for earlier in rules.earlier:
        shared = rules.shared_dm(arcs, earlier) / DM_PER_KM
        rows.put(rows.block(1, -INFINITE, 0.0), model.driven, shared - rules.overlap * length)


def _add_gain(rows: Rows, model: LoopModel, curve: GainCurve | None) -> None:
    """Credits that fill the pieces come from driven arcs."""
    if curve is None:
        return
    credits_of, lost = model.problem.arcs.credits, model.problem.arcs.pairs.lost[model.pairs]
    for technique, pieces in enumerate(model.filled):
        row = rows.block(1, -INFINITE, 0.0)
        rows.put(row, pieces, 1.0)
        rows.put(row, model.driven, -credits_of[:, technique])
        rows.put(row, model.twice, lost[:, technique])


def columns_of_walk(model: LoopModel, walk: Ints) -> Floats:
    """Give the value of every column for a known loop, to start the solver from."""
    problem, reach = model.problem, model.reach
    turns, rules = problem.turns, problem.rules
    scale = DM_PER_KM if rules.flows_by_length else S_PER_H
    values = np.zeros(model.lp.num_col_)
    values[model.driven[walk]] = 1.0
    values[model.start[np.searchsorted(turns.starts, walk[0])]] = 1.0
    values[model.end[np.searchsorted(turns.ends, walk[-1])]] = 1.0
    after = problem.cost + reach.home
    left = problem.cost[walk][::-1].cumsum()[::-1]  # what is still to drive before each arc of the walk
    values[model.start_slack[np.searchsorted(turns.starts, walk[0])]] = (left[0] - after[walk[0]]) / scale
    code = turns.first * len(problem.arcs) + turns.second
    made = np.searchsorted(code, walk[:-1] * len(problem.arcs) + walk[1:])
    values[model.turn[made]] = 1.0
    values[model.slack[made]] = (left[1:] - after[walk[1:]]) / scale
    values[model.twice] = problem.arcs.pairs.both(walk)[model.pairs]
    if model.filled.size:
        got = problem.arcs.credits_on(walk)
        starts = np.arange(PIECES) * PIECE_CREDITS
        values[model.filled] = np.clip(got[:, None] - starts[None, :], 0, PIECE_CREDITS)
    return values


def walk_of_columns(model: LoopModel, values: Floats) -> Ints:
    """Follow the turns that are made from the start; shape (arcs of the loop,)."""
    turns = model.problem.turns
    start = int(turns.starts[np.argmax(values[model.start])])
    made = np.flatnonzero(values[model.turn] > 0.5)
    after = dict(zip(turns.first[made].tolist(), turns.second[made].tolist(), strict=True))
    walk = [start]
    while walk[-1] in after:
        walk.append(after.pop(walk[-1]))
    return np.array(walk, dtype=np.int64)
