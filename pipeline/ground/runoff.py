"""How streams rise with the rain."""

from pydantic import Field

from pipeline.settings import Strict

__all__ = ["Runoff"]


class Runoff(Strict):
    """What share of the rain index runs off, how fast, and what kind of bed it runs in."""

    coefficient: float = Field(gt=0.0, le=1.0)
    """Share of the index that runs off."""
    hours: float = Field(ge=0.25, le=72.0)
    """Time in which it does, h."""
    manning_n: float = Field(gt=0.005, le=0.3)
    """Roughness of the bed, Manning's n, s·m^(−1/3)."""
    bed_grade: float = Field(gt=0.0001, le=0.5)
    """Grade of the stream where it crosses a trail, rise over run."""
    width_m: float = Field(gt=0.1, le=50.0)
    """Width of a stream that nobody measured."""
    catchment_ha: float = Field(gt=0.0, le=10_000.0)
    """Catchment of water that no flow path of the elevation model reaches."""
