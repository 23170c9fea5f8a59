"""Ground under the tyres: rises between rows, means over the patch, and what is missing."""

import numpy as np
import pytest
from numpy.typing import NDArray

from pipeline.kernels.wheel_lines import Ribbon, under_tyres

pytestmark = pytest.mark.kernel

Floats = NDArray[np.float64]

DEM, SURVEYED = 3, 4


def ribbon(z: Floats, left: Floats, right: Floats, every: int = 5, basis: int = SURVEYED) -> Ribbon:
    """Make one run; its rows follow from its samples."""
    return Ribbon(
        offsets=np.array([0, z.size]),
        z=z.astype(np.float64),
        basis=np.full(z.size, basis, dtype=np.uint8),
        rows=np.array([0, left.size]),
        every=every,
        left=left.astype(np.float64),
        right=right.astype(np.float64),
        beside=DEM,
    )


def rows_of(samples: int, every: int = 5) -> NDArray[np.int64]:
    """Give the samples that rows lie across."""
    return np.unique(np.append(np.arange(0, samples, every), samples - 1))


def plain(z: Floats, rise: Floats, reach: float, every: int = 5) -> Floats:
    """Do the same plainly: rises by interpolation, means by trapezia between all knots."""
    k = np.arange(z.size)
    line = z + np.interp(k, rows_of(z.size, every), rise)
    out = np.empty(z.size)
    for i in k:
        half = min(reach, i, z.size - 1 - i)
        if half == 0:
            out[i] = line[i]
            continue
        knots = np.unique(np.concatenate(([i - half, i + half], k[(k > i - half) & (k < i + half)])))
        out[i] = np.trapezoid(np.interp(knots, k, line), knots) / (2.0 * half)
    return out


@pytest.mark.parametrize("reach", [0.0, 0.4, 1.0, 1.7, 3.0])
@pytest.mark.parametrize("samples", [1, 2, 6, 11, 44])
def test_means_are_those_of_a_plain_twin(reach: float, samples: int) -> None:
    """Random heights and rises, patches shorter and longer than a step, runs shorter than a patch: to 1e-12."""
    rng = np.random.default_rng(samples)
    z = rng.normal(100.0, 0.3, samples)
    left, right = rng.normal(0.0, 0.3, (2, rows_of(samples).size))
    found = under_tyres(ribbon(z, left, right), reach)
    assert found[0] == pytest.approx(plain(z, left, reach), abs=1e-12)
    assert found[1] == pytest.approx(plain(z, right, reach), abs=1e-12)


def test_a_plane_stays_a_plane_to_its_very_ends() -> None:
    """Ends are averaged over as much as there is on both sides: no slope is planed off."""
    z = 100.0 + 0.4 * np.arange(23)
    left, right, _ = under_tyres(ribbon(z, np.full(6, -0.2), np.full(6, 0.2)), 1.6)
    assert left == pytest.approx(z - 0.2, abs=1e-12)
    assert right == pytest.approx(z + 0.2, abs=1e-12)


def test_a_ledge_under_half_the_patch_counts_half() -> None:
    """The patch from one sample before to one after; the ledge rises between two samples: ¼ and ¾ of it, derived."""
    z = np.where(np.arange(21) < 10, 0.0, 0.4)
    left, _, _ = under_tyres(ribbon(z, np.zeros(5), np.zeros(5)), 1.0)
    assert left[8:12] == pytest.approx([0.0, 0.1, 0.3, 0.4])


def test_only_what_the_patch_touches_can_be_missing() -> None:
    """A missing height takes its neighbours along where the patch reaches them; a missing row all up to the next."""
    z = np.zeros(31)
    z[20] = np.nan
    rise = np.zeros(7)
    rise[1] = np.nan
    left, right, _ = under_tyres(ribbon(z, rise, np.zeros(7)), 0.0)
    assert np.flatnonzero(np.isnan(left)).tolist() == [1, 2, 3, 4, 5, 6, 7, 8, 9, 20]
    assert np.flatnonzero(np.isnan(right)).tolist() == [20]
    left, right, _ = under_tyres(ribbon(z, rise, np.zeros(7)), 1.0)
    assert np.flatnonzero(np.isnan(right)).tolist() == [19, 20, 21]
    assert np.flatnonzero(np.isnan(left)).tolist() == [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 19, 20, 21]


def test_runs_do_not_run_into_each_other() -> None:
    """Two runs give what each gives alone."""
    rng = np.random.default_rng(3)
    one, two = (ribbon(rng.normal(size=n), rng.normal(size=r), rng.normal(size=r)) for n, r in ((12, 4), (8, 3)))
    both = Ribbon(
        offsets=np.array([0, 12, 20]),
        rows=np.array([0, 4, 7]),
        every=5,
        beside=DEM,
        **{name: np.concatenate((getattr(one, name), getattr(two, name))) for name in ("z", "basis", "left", "right")},
    )
    alone = [under_tyres(each, 1.5) for each in (one, two)]
    for k, found in enumerate(under_tyres(both, 1.5)):
        assert found == pytest.approx(np.concatenate([part[k] for part in alone]), abs=1e-12)


def test_a_rise_rests_on_the_model_it_came_from() -> None:
    """A surveyed line with a side slope from the model is worth the model; level across it keeps its own worth."""
    z, rise = np.zeros(16), np.array([0.0, 0.0, 0.2, 0.2])
    _, _, basis = under_tyres(ribbon(z, rise, -rise), 1.0)
    assert basis.tolist() == [SURVEYED] * 6 + [DEM] * 10
    _, _, basis = under_tyres(ribbon(z, rise, -rise, basis=1), 1.0)
    assert basis.tolist() == [1] * 16
