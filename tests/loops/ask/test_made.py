"""Every change told is made, as the words say it, on random small nets: it must give a loop, a smaller one must not."""

import re
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from pipeline.loops.ask.mend import changes_of, possible
from pipeline.loops.plan import make_plan
from pipeline.loops.request import LoopInputs, LoopRequest
from pipeline.loops.settings import LoopSettings
from pipeline.terms import Objective, Status, Verdict
from tests.loops.worlds import SETUPS, World, tiny

Asked = tuple[LoopInputs, LoopRequest]


def shut_world(seed: int) -> World:
    """Make a small net in which much is closed, barred or one-way, some of it twice over."""
    world, rng = tiny(seed), np.random.default_rng(seed)
    for trail in world.trails:
        if rng.random() < 0.15:
            trail.status = Status.CLOSED
        if rng.random() < 0.2:
            trail.verdict = (Verdict.BARRED, Verdict.BARRED if rng.random() < 0.5 else Verdict.AMPLE)
        if rng.random() < 0.2:
            trail.oneway = 1
    return world


def asked_of(seed: int) -> LoopRequest:
    """Ask for a loop that there may well not be."""
    rng = np.random.default_rng(900 + seed)
    low = float(rng.choice([100.0, 800.0, 2500.0]))
    names = [*(f"s{number:03d}" for number in range(13)), "Muster", "Slab"]
    options: dict[str, Any] = {"must": tuple(rng.choice(names, int(rng.integers(0, 3)), replace=False).tolist())}
    options["avoid"] = tuple(name for name in rng.choice(names[:13], 2).tolist() if name not in options["must"])
    options["bypass"] = ("wagon",) if seed % 2 else ()
    options["laps"] = int(rng.integers(1, 4))
    options["max_redriven"] = float(rng.choice([0.0, 0.1, 0.3]))
    time_min = (float(rng.integers(1, 30)), 45.5) if seed % 3 == 0 else None
    window = (low, low + float(rng.choice([50.0, 900.0])))
    return LoopRequest("loop", Objective.SAFEST, window, time_min, SETUPS, **options)


def less_of(asked: Asked, words: str) -> Iterator[tuple[Asked, Asked | None]]:
    """Make a change of a number: with it, and with one unit less of it where the window allows."""
    inputs, request = asked
    if found := re.match(r"(length_m|time_min) (up to|from) (\d+) ", words):
        key, number, up = found[1], float(found[3]), found[2] == "up to"
        low, high = getattr(request, key)
        window, less = ((low, number), (low, number - 1)) if up else ((number, high), (number + 1, high))
        short = (inputs, replace(request, **{key: less})) if less[0] <= less[1] else None
        yield (inputs, replace(request, **{key: window})), short
    if found := re.match(r"max_redriven = (\d\.\d\d) ", words):
        share = float(found[1])
        yield (inputs, replace(request, max_redriven=share)), (inputs, replace(request, max_redriven=share - 0.01))
    if found := re.match(r"laps = (\d+) ", words):
        yield (inputs, replace(request, laps=int(found[1]))), None


def made(asked: Asked, words: str) -> Iterator[Asked]:
    """Make a change of the group, of what must be taken in or of the ground."""
    inputs, request = asked
    if found := re.match(r'"(\w+)" in bypass', words):
        yield inputs, replace(request, bypass=(*request.bypass, found[1]))
    elif found := re.match(r'without the set-up "(\w+)"', words):
        setups, bypass = (tuple(s for s in names if s != found[1]) for names in (request.setups, request.bypass))
        yield inputs, replace(request, setups=setups, bypass=bypass)
    elif found := re.match(r"without (.*)", words):
        yield inputs, replace(request, must=tuple(s for s in request.must if s not in found[1].split(" and ")))
    elif words.startswith("room to turn round at"):
        yield roomy(inputs, words.removeprefix("room to turn round at ")), request
    elif words.startswith("if this were not so: "):
        yield opened(asked, words)


def roomy(inputs: LoopInputs, place: str) -> LoopInputs:
    """Make room to turn round at a place told by its name or by the segments there, or everywhere."""
    nodes, ends = inputs.network.nodes, inputs.network.segments
    names = re.findall(r"s\d{3}", place)
    touching = [set(ends[ends["segment_id"] == s][["node_a", "node_b"]].to_numpy()[0]) for s in names]
    here = nodes["node_id"].isin(set.intersection(*touching)) if touching else nodes["name"] == place
    room = nodes["turn_round"] | here | (place == "every junction and dead end")
    return replace(inputs, network=replace(inputs.network, nodes=nodes.assign(turn_round=room)))


def opened(asked: Asked, words: str) -> Asked:
    """Take away what the words say of segments and directions, and nothing else."""
    inputs, request = asked
    segments, verdicts = inputs.network.segments.copy(), inputs.verdicts.copy()
    for segment, direction, why in re.findall(r"(s\d{3}) (with|against) \(([^)]*)\)", words):
        at = segments["segment_id"] == segment
        if "closed" in why:
            segments.loc[at, "status"] = Status.OPEN.value
        if "one-way" in why:
            segments.loc[at, "oneway"] = 0
        if "avoided" in why:
            request = replace(request, avoid=tuple(name for name in request.avoid if name != segment))
        for setup in re.findall(r"barred for (\w+)", why):
            here = (verdicts["segment_id"] == segment) & (verdicts["direction"] == direction)
            verdicts.loc[here & (verdicts["setup"] == setup), "verdict"] = Verdict.SPOT.value
    return replace(inputs, network=replace(inputs.network, segments=segments), verdicts=verdicts), request


@pytest.mark.parametrize("seed", range(30))
def test_every_change_told_is_true_and_least(settings: LoopSettings, seed: int) -> None:
    """Made alone, each gives a loop; a unit less of a number gives none."""
    asked = shut_world(seed).inputs(settings), asked_of(seed)
    if possible(*asked):
        return
    for change in changes_of(asked[0], make_plan(*asked)):
        numbers, others = list(less_of(asked, change.words)), list(made(asked, change.words))
        assert len(numbers) + len(others) == 1, change.words
        for more, less in numbers:
            assert possible(*more), change.words
            assert less is None or not possible(*less), change.words
        assert all(possible(*one) for one in others), change.words
