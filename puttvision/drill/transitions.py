"""Square matrices of chances from state to state: dense of small chains, sparse of large ones.

Most drills have a few dozen states; a sparse library would take longer to load than they take to solve.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from scipy.sparse import csr_array

Array = NDArray[np.float64]
Matrix: TypeAlias = "Array | csr_array"

DENSE = 200
"""Rows up to which a matrix is dense: an LU of so many takes less than a millisecond."""


def matrix(values: Array, rows: NDArray[np.intp], columns: NDArray[np.intp], n: int) -> Matrix:
    """An n x n matrix of entries; those at one place are added up."""
    if n > DENSE:
        from scipy.sparse import csr_array

        return csr_array((values, (rows, columns)), shape=(n, n))
    out = np.zeros((n, n))
    np.add.at(out, (rows, columns), values)
    return out


def transposed(q: Matrix) -> Matrix:
    """The same with rows for columns, quick to multiply with."""
    return np.ascontiguousarray(q.T) if isinstance(q, np.ndarray) else q.T.tocsr()


def cut(q: Matrix, rows: NDArray[np.intp], columns: NDArray[np.intp]) -> Matrix:
    """The entries of some rows in some columns."""
    return q[np.ix_(rows, columns)] if isinstance(q, np.ndarray) else q[rows][:, columns].tocsr()


def entries(q: Matrix) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Rows and columns of what is not zero."""
    if isinstance(q, np.ndarray):
        rows, columns = np.nonzero(q)
        return rows, columns
    coo = q.tocoo()
    return np.asarray(coo.coords[0], dtype=np.intp), np.asarray(coo.coords[1], dtype=np.intp)


def reached(q: Matrix, start: int) -> NDArray[np.bool_]:
    """Which states can be met from one state, itself among them; shape (n,)."""
    met = np.zeros(q.shape[0], dtype=bool)
    if isinstance(q, np.ndarray):
        goes, new = q != 0, np.array([start])
        while new.size:
            met[new] = True
            new = np.flatnonzero(goes[new].any(axis=0) & ~met)
        return met
    from scipy.sparse.csgraph import breadth_first_order

    met[breadth_first_order(q, start, return_predecessors=False)] = True
    return met


def visits_solver(q: Matrix) -> Callable[[Array, bool], Array]:
    """A function of b (and whether transposed) that solves (I - Q) x = b."""
    n = q.shape[0]
    if isinstance(q, np.ndarray):
        left = np.eye(n) - q
        return lambda b, turned: np.asarray(np.linalg.solve(left.T if turned else left, b))
    from scipy.sparse import eye_array
    from scipy.sparse.linalg import splu

    lu: Any = splu((eye_array(n, format="csc") - q.tocsc()).tocsc())
    return lambda b, turned: np.asarray(lu.solve(b, trans="T" if turned else "N"))
