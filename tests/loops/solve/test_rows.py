"""Assembling a linear model."""

import highspy
import numpy as np

from pipeline.loops.solve.rows import Columns, Rows, to_lp


def test_a_small_model_solves_to_its_known_optimum() -> None:
    """The maximum of 5a + 4b, 6a + 4b ≤ 24, a + 2b ≤ 6, is 21 at (3, 1.5) (Taha, Operations Research, ch. 2)."""
    columns, rows = Columns(), Rows()
    both = columns.block(2, np.inf, cost=[5.0, 4.0])
    rows.put(rows.block(1, -np.inf, 24.0), both, [6.0, 4.0])
    rows.put(rows.block(1, -np.inf, 6.0), both, [1.0, 2.0])
    solver = highspy.Highs()
    solver.silent()
    solver.setOptionValue("threads", 1)
    solver.passModel(to_lp(rows, columns, maximise=True))
    solver.run()
    assert np.allclose(solver.getSolution().col_value, [3.0, 1.5])
    assert np.isclose(solver.getInfo().objective_function_value, 21.0)


def test_matrix_equals_the_entries() -> None:
    """Entries put in any order must come out by column, then by row."""
    columns, rows = Columns(), Rows()
    first, second = columns.block(2, 1.0, whole=True), columns.block(1, 3.0)
    row = rows.block(3, 0.0, [1.0, 2.0, 3.0])
    rows.put(row + np.array([2, 0]), first, 7.0)
    rows.put(row + 1, second, -1.0)
    rows.put(row, second, 4.0)
    lp = to_lp(rows, columns, maximise=False)
    dense = np.zeros((3, 3))
    for column in range(3):
        for k in range(lp.a_matrix_.start_[column], lp.a_matrix_.start_[column + 1]):
            dense[lp.a_matrix_.index_[k], column] = lp.a_matrix_.value_[k]
    assert dense.tolist() == [[0.0, 7.0, 4.0], [0.0, 0.0, -1.0], [7.0, 0.0, 0.0]]
    assert list(lp.row_upper_) == [1.0, 2.0, 3.0]
    assert lp.integrality_ == [highspy.HighsVarType.kInteger] * 2 + [highspy.HighsVarType.kContinuous]
