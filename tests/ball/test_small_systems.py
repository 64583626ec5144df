"""Three equations at a time, against LAPACK through numpy."""

import numpy as np
import pytest

from puttvision.ball.small_systems import solve3


@pytest.mark.parametrize("seed", range(20))
def test_the_solution_is_numpys(seed):
    rng = np.random.default_rng(seed)
    root = rng.normal(size=(9, 3))
    matrix, right = root.T @ root, rng.normal(size=3)
    assert solve3(matrix, right) == pytest.approx(np.linalg.solve(matrix, right), rel=1e-9)


def test_a_singular_matrix_is_refused():
    with pytest.raises(ZeroDivisionError):
        solve3(np.zeros((3, 3)), np.ones(3))
