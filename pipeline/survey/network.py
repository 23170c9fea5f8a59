"""Reads a survey: files from the field to one network of segments, nodes and obstacles."""

from collections.abc import Iterator, Sequence

import numpy as np
import shapely
from pyproj import CRS

from pipeline.errors import ContractError, Fault
from pipeline.survey.assemble import NodeNumbers, network_table, nodes_table, obstacles_table, repairs_table
from pipeline.survey.attach import attach
from pipeline.survey.attributes import OBSTACLE_ATTRIBUTES, TRAIL_ATTRIBUTES, keys_of
from pipeline.survey.crs import check_coordinates, to_working, working_crs
from pipeline.survey.findings import Findings
from pipeline.survey.ids import segment_ids
from pipeline.survey.joining import Joined, join
from pipeline.survey.layer import Layer
from pipeline.survey.lines import Line, read_lines
from pipeline.survey.model import Network, Source, SurveyInputs, SurveyParameters
from pipeline.survey.ogr import LINES, Wanted
from pipeline.survey.places import Thing, find_trailhead, mentions, read_things, report_beside, stops_of
from pipeline.survey.read import read_layer

__all__ = ["read_survey"]

_UNSAID = "the survey stopped without a fault"
_LINES = Wanted(LINES, ("LineString", "Curve"), keys_of(TRAIL_ATTRIBUTES, trail=True))
_OBSTACLES = Wanted("obstacles", ("Point", "Polygon", "LineString"), keys_of(OBSTACLE_ATTRIBUTES, trail=False))


def read_survey(inputs: SurveyInputs, parameters: SurveyParameters) -> Network:
    """Read the survey files and join them to one network.

    The files are never changed; every change made to what they say stands in the ``repairs`` of the network.

    Parameters
    ----------
    inputs
        Files of the network and the obstacles, and the trailhead.
    parameters
        Snap distance, working CRS, attach distance.

    Returns
    -------
    Network
        In a projected CRS with metres; its tables fit the contracts NETWORK, NODES, OBSTACLES and REPAIRS.

    Raises
    ------
    DataError
        With all faults of all files: values, geometries, CRSs, layers, trailhead.
    InputMissingError
        When files are missing or cannot be opened, and nothing else is wrong.
    """
    findings = Findings()
    network = list(_usable(inputs.network, _LINES, findings))
    obstacles = list(_usable(inputs.obstacles, _OBSTACLES, findings))
    crs = working_crs(parameters.crs, network, findings)
    if crs is None:
        read_things(obstacles, findings)
        _report_empty(inputs, findings)
        findings.stop_if_faulty()
        raise ContractError(_UNSAID)
    lines = read_lines(list(_moved(network, crs, findings)), findings)
    moved = list(_moved(obstacles, crs, findings))
    things = read_things(moved, findings)
    explained = len(moved) < len(inputs.obstacles) or mentions(moved, inputs.trailhead)
    trailhead = find_trailhead(inputs.trailhead, things, lines, findings, explained=explained)
    report_beside(things, lines, findings)
    if not lines:
        _report_empty(inputs, findings)
    findings.stop_if_faulty()
    if trailhead is None:
        raise ContractError(_UNSAID)
    return _build(inputs, parameters, (lines, things, trailhead), crs, findings)


def _usable(sources: Sequence[Source], wanted: Wanted, findings: Findings) -> Iterator[Layer]:
    """Yield the layers that can be used."""
    for source in sources:
        layer = read_layer(source, wanted, findings)
        if layer is not None and check_coordinates(layer, findings):
            yield layer


def _moved(layers: Sequence[Layer], crs: CRS, findings: Findings) -> Iterator[Layer]:
    """Yield the layers in the working CRS."""
    for layer in layers:
        moved = to_working(layer, crs, findings)
        if moved is not None:
            yield moved


def _report_empty(inputs: SurveyInputs, findings: Findings) -> None:
    """Report a network without a line, unless another fault explains it."""
    if findings.faults or findings.missing:
        return
    files = ", ".join(source.name for source in inputs.network) or "no file"
    reasons = sorted({repair.detail for repair in findings.repairs})[:3]
    findings.faults.append(
        Fault(files, "", f"no trail is left: {'; '.join(reasons) or 'it holds no feature'}", "at least one line")
    )


def _build(
    inputs: SurveyInputs,
    parameters: SurveyParameters,
    parts: tuple[list[Line], list[Thing], shapely.Point],
    crs: CRS,
    findings: Findings,
) -> Network:
    """Join the lines and make the tables."""
    lines, things, trailhead = parts
    joined = join(lines, stops_of(things, trailhead, parameters.attach_m), parameters.snap_m, findings)
    if not len(joined.parts.shapes):
        _report_empty(inputs, findings)
        findings.stop_if_faulty()
    numbers = NodeNumbers(joined)
    ids = segment_ids(joined.lines, joined.parts.line, parameters.snap_m, findings)
    attached = attach(things, joined.parts.shapes, parameters.attach_m, findings)
    turning = list(_turning(joined, numbers, trailhead))
    return Network(
        segments=network_table(joined, ids, numbers, crs),
        nodes=nodes_table(joined, numbers, things, turning, parameters.snap_m, crs),
        obstacles=obstacles_table(attached, ids, crs),
        repairs=repairs_table(findings.repairs, joined, ids, crs),
        crs=crs,
        trailhead_node=turning[0],
        obstacles_surveyed=bool(inputs.obstacles),
    )


def _turning(joined: Joined, numbers: NodeNumbers, trailhead: shapely.Point) -> Iterator[int]:
    """Yield the nodes where a vehicle can turn round, the trailhead's first."""
    stops = joined.parts.stop_nodes
    first = -1 if stops[0] is None else int(numbers.of(np.array([stops[0]]))[0])
    if first < 0:
        first = int(np.hypot(*(numbers.xy - [trailhead.x, trailhead.y]).T).argmin())
    yield first
    for stop in stops[1:]:
        if stop is not None and (node := int(numbers.of(np.array([stop]))[0])) >= 0:
            yield node
