"""Where things lie along segments and loops: the shared geometry of the products."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property
from typing import Any

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from pyproj import CRS, Transformer

from pipeline.products.facts import Facts
from pipeline.terms import Direction

__all__ = ["Leg", "Profile", "Profiles", "legs_along", "legs_of", "lon_lat", "rows"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Profile:
    """The stations of one segment, chainage ascending; heights and slopes are NaN where they are not known."""

    chainage_m: Floats
    z_m: Floats
    grade_deg: Floats
    """+ uphill in the with direction."""
    side_slope_deg: Floats
    """+ ground rises to the right of the with direction."""

    def thinned(self, step_m: float) -> "Profile":
        """Keep every k-th station, so that they stand about *step_m* apart, and always both ends."""
        count = len(self.chainage_m)
        if count < 3:
            return self
        every = max(1, round(step_m * (count - 1) / max(self.chainage_m[-1] - self.chainage_m[0], 1e-9)))
        keep = np.unique(np.append(np.arange(0, count, every), count - 1))
        return Profile(self.chainage_m[keep], self.z_m[keep], self.grade_deg[keep], self.side_slope_deg[keep])


class Profiles:
    """The stations table cut into one profile per segment.

    Parameters
    ----------
    stations
        Contract STATIONS; the rows of a segment stand together.
    """

    def __init__(self, stations: pd.DataFrame) -> None:
        codes, ids = pd.factorize(stations["segment_id"])
        starts = np.flatnonzero(np.diff(codes, prepend=-1))
        ends = np.append(starts, len(codes))[1:]
        self._rows = {str(ids[codes[a]]): slice(int(a), int(b)) for a, b in zip(starts, ends, strict=True)}
        self._columns = [
            stations[name].to_numpy(dtype=np.float64) for name in ("chainage_m", "z_m", "grade_deg", "side_slope_deg")
        ]

    def __getitem__(self, segment_id: str) -> Profile:
        """Give the profile of a segment; an empty one when it has no stations."""
        rows = self._rows.get(segment_id, slice(0, 0))
        return Profile(*(column[rows] for column in self._columns))


@dataclass(frozen=True)
class Leg:
    """One leg of a loop, in the direction of travel."""

    seq: int
    segment_id: str
    name: str
    direction: Direction
    start_m: float
    """Distance along the loop where it begins."""
    length_m: float
    verdicts: str
    """``setup: verdict`` of each set-up, joined by ``; ``."""
    line: shapely.LineString
    """Plan line in the digitised direction, working CRS."""
    profile: Profile

    @cached_property
    def along(self) -> tuple[Floats, Floats]:
        """Distance along the loop (m) and height (m, NaN where unknown) of every station, in driving order."""
        chainage, z = self.profile.chainage_m, self.profile.z_m
        if self.direction is Direction.AGAINST:
            return self.start_m + self.length_m - chainage[::-1], z[::-1]
        return self.start_m + chainage, z

    def points(self, step_m: float) -> Floats:
        """Points of the leg in driving order: its vertices, and more so that none are farther than *step_m* apart.

        Returns
        -------
        Shape (n, 3): x, y in the working CRS and height, NaN where it is not known.
        """
        dense = shapely.get_coordinates(shapely.segmentize(shapely.force_2d(self.line), step_m))
        steps = np.hypot(*np.diff(dense, axis=0).T)
        chainage = np.concatenate([[0.0], np.cumsum(steps)])
        z = np.full(len(dense), np.nan)
        if len(self.profile.chainage_m):
            z = np.interp(chainage, self.profile.chainage_m, self.profile.z_m)
        points = np.column_stack([dense, z])
        return points[::-1] if self.direction is Direction.AGAINST else points


def rows(frame: pd.DataFrame) -> Iterator[Any]:
    """Walk the rows of a frame, columns as attributes; for small tables only."""
    yield from frame.itertuples(index=False)


def legs_of(facts: Facts, loop: str, rank: int, profiles: Profiles) -> Iterator[Leg]:
    """Walk the legs of one loop in driving order."""
    own = facts.legs[(facts.legs["loop"] == loop) & (facts.legs["rank"] == rank)].sort_values("seq")
    ways = list(zip(own["segment_id"].tolist(), own["direction"].tolist(), strict=True))
    told = zip(legs_along(facts, ways, profiles), own["start_m"].tolist(), own["verdicts"].tolist(), strict=True)
    for leg, start_m, verdicts in told:
        yield replace(leg, start_m=float(start_m), verdicts=str(verdicts))


def legs_along(facts: Facts, ways: Sequence[tuple[str, str]], profiles: Profiles) -> Iterator[Leg]:
    """Walk a way given by segments and directions, from its beginning."""
    segments = facts.segments.set_index("segment_id")
    start_m = 0.0
    for seq, (segment_id, direction) in enumerate(ways, start=1):
        segment = segments.loc[segment_id]
        name = segment["name"]
        yield Leg(
            seq=seq,
            segment_id=str(segment_id),
            name=name if isinstance(name, str) else "",
            direction=Direction(direction),
            start_m=start_m,
            length_m=float(segment["length_m"]),
            verdicts="",
            line=segment["geometry"],
            profile=profiles[str(segment_id)],
        )
        start_m += float(segment["length_m"])


def lon_lat(coordinates: Floats, crs: CRS) -> Floats:
    """Turn working coordinates, shape (n, 2), into WGS 84 longitude and latitude in degrees, shape (n, 2)."""
    lon, lat = _to_degrees(crs).transform(coordinates[:, 0], coordinates[:, 1])
    return np.column_stack([lon, lat])


@cache
def _to_degrees(crs: CRS) -> Transformer:
    """Make the transformer to WGS 84 once: making one takes longer than turning the points of a leg."""
    return Transformer.from_crs(crs, "EPSG:4326", always_xy=True)
