"""Finds the requested loops: one block a request, then the tables."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from pipeline.errors import SettingsError
from pipeline.loops.assemble import LoopRecord, assemble, make_record
from pipeline.loops.explain import say_found, say_none
from pipeline.loops.names import request_faults
from pipeline.loops.plan import Plan, make_plan
from pipeline.loops.request import FoundLoops, LoopInputs, LoopNote, LoopRequest
from pipeline.loops.solve.hunt import Answer, Quest, safest, training_rich
from pipeline.spread import Mapper, serial
from pipeline.terms import Objective

__all__ = ["find_loops"]


@dataclass(frozen=True, slots=True)
class _Block:
    """One request with everything it needs, for a worker."""

    inputs: LoopInputs
    request: LoopRequest


@dataclass(frozen=True, slots=True)
class _Found:
    """What a block gives."""

    records: tuple[LoopRecord, ...]
    note: LoopNote


def find_loops(inputs: LoopInputs, requests: Sequence[LoopRequest], mapper: Mapper = serial) -> FoundLoops:
    """Find the loops that are asked for.

    Parameters
    ----------
    inputs
        Network, checks, verdicts, techniques, drivers, settings; nothing of it is changed.
    requests
        The loops wanted, each with its own set-ups.
    mapper
        Spreads the requests over workers; every mapper gives the same answer.

    Returns
    -------
    FoundLoops
        Tables LOOPS and LEGS in the order of the requests, and one note a request.

    Raises
    ------
    SettingsError
        With every name in the requests that nothing answers to, and every set-up without a driver.
    """
    faults = request_faults(requests, inputs.network, inputs.drivers, "loops")
    if faults:
        raise SettingsError(faults)
    found = mapper(_search, [_Block(inputs, request) for request in requests])
    records = [record for block in found for record in block.records]
    loops, legs = assemble(records, inputs.network)
    return FoundLoops(loops=loops, legs=legs, notes=tuple(block.note for block in found))


def _search(block: _Block) -> _Found:
    """Find the loops of one request."""
    plan = make_plan(block.inputs, block.request)
    hunt = safest if block.request.objective is Objective.SAFEST else training_rich
    answers: list[Answer] = []
    for _ in range(1 + block.request.alternatives):
        answer = hunt(_apart(plan, answers))
        if answer is None:
            break
        answers.append(answer)
    records = tuple(make_record(plan, answer, rank) for rank, answer in enumerate(answers, start=1))
    text = say_found(plan, answers) if answers else say_none(plan, block.inputs.network)
    return _Found(records, LoopNote(block.request.name, bool(answers), text))


def _apart(plan: Plan, answers: Sequence[Answer]) -> Quest:
    """Ask for a loop that shares no more than the allowed share with each of *answers*."""
    if not answers:
        return plan.quest
    earlier = []
    for answer in answers:
        segments = {plan.traversals[n].segment_id for move in answer.numbers for n in plan.moves[move].path}
        earlier.append(frozenset(n for n, t in enumerate(plan.traversals) if t.segment_id in segments))
    return replace(plan.quest, rules=replace(plan.quest.rules, earlier=tuple(earlier)))
