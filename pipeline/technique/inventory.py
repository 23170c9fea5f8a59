"""The inventory of techniques: what each segment exercises, in each direction."""

import pandas as pd

from pipeline.survey.model import Network
from pipeline.tables import TECHNIQUES, validate
from pipeline.technique.settings import Techniques
from pipeline.technique.stretches import stretches
from pipeline.technique.things import things
from pipeline.terrain.model import Terrain

__all__ = ["detailed_table", "technique_table"]


def detailed_table(network: Network, terrain: Terrain, settings: Techniques) -> pd.DataFrame:
    """List what each segment exercises, with what a call must know about it.

    Parameters
    ----------
    network
        Segments and obstacles.
    terrain
        Stations of the network.
    settings
        Thresholds.

    Returns
    -------
    pd.DataFrame
        The columns of TECHNIQUES, then ``row`` of the segment, ``size``, ``side``, ``key``, ``name`` and ``thing`` (see
        :data:`pipeline.technique.stretches.DETAILS`). Ordered by segment, direction, place and technique.
    """
    found = pd.concat([stretches(terrain, settings), things(network, settings)], ignore_index=True)
    ids = network.segments["segment_id"].reset_index(drop=True)
    found = found.assign(segment_id=ids.iloc[found["row"].to_numpy()].set_axis(found.index).astype("str"))
    ordered = found.assign(against=found["direction"] == "against").sort_values(
        ["row", "against", "from_m", "to_m", "technique", "key"], kind="stable", ignore_index=True
    )
    return ordered[[*TECHNIQUES.names, "row", "size", "side", "key", "name", "thing"]]


def technique_table(network: Network, terrain: Terrain, settings: Techniques) -> pd.DataFrame:
    """List what each segment exercises, in each direction.

    Parameters
    ----------
    network
        Segments and obstacles.
    terrain
        Stations of the network.
    settings
        Thresholds.

    Returns
    -------
    pd.DataFrame
        Contract TECHNIQUES. Chainages run along the digitised direction in both directions of travel; a climb
        ``with`` is a descent ``against``. The amount is metres for slopes, soft ground and ruts, 1 for the rest.
    """
    found = detailed_table(network, terrain, settings)[list(TECHNIQUES.names)]
    return validate(found, TECHNIQUES)
