"""How streams rise with the rain."""

from pydantic import Field

from pipeline.settings import Strict

__all__ = ["Runoff"]


class Runoff(Strict):
    """How much of the rain index runs off, how fast, and what kind of bed it runs in."""

    curve_number: float = Field(ge=30.0, le=100.0)
    """Curve number of the land: how little of the rain it takes up."""
    hours: float = Field(ge=0.25, le=72.0)
    """Time in which it runs off, h."""
    manning_n: float = Field(gt=0.005, le=0.3)
    """Roughness of the bed, Manning's n, s·m^(−1/3)."""
    bed_grade: float = Field(gt=0.0001, le=0.5)
    """Grade of the stream where it crosses a trail, rise over run."""
    width_m: float = Field(gt=0.1, le=50.0)
    """Width of a stream that nobody measured."""
    catchment_ha: float = Field(gt=0.0, le=10_000.0)
    """Catchment of water that no flow path of the elevation model reaches."""

    def depth_mm(self, index_mm: float) -> float:
        """Give what runs off of a rain index, mm: nothing up to what the land takes up first, then more and more.

        Notes
        -----
        Curve number method of the US Soil Conservation Service (TR-55, 1986; memory): Q = (P − 0.2·S)² ÷ (P + 0.8·S)
        with S = 25400 ÷ CN − 254 mm. That the index stands for the rain P is an assumption.
        """
        takes_up = 25_400.0 / self.curve_number - 254.0
        over = max(index_mm - 0.2 * takes_up, 0.0)
        return over**2 / (index_mm + 0.8 * takes_up) if over > 0.0 else 0.0
