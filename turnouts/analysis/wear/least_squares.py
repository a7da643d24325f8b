"""Least squares by orthogonal columns: coefficients, their covariance, and the residual scatter.

Solved by QR after each column is brought to the same length, so that the hard cases of the NIST
reference data sets (columns of very different size, nearly parallel columns) keep their digits.
"""

from dataclasses import dataclass

import numpy as np
from scipy.linalg import qr, solve_triangular

from turnouts.analysis.wear.runs import Floats


@dataclass(frozen=True, slots=True)
class LeastSquares:
    """A fit of y = X b: ``sd`` is the residual standard deviation with ``degrees`` of freedom."""

    coefficients: Floats
    covariance: Floats
    sd: float
    degrees: int

    @property
    def standard_errors(self) -> Floats:
        """Standard deviation of each coefficient."""
        return np.asarray(np.sqrt(np.diag(self.covariance)))


def least_squares(columns: Floats, values: Floats) -> LeastSquares:
    """Ordinary least squares; the columns hold the constant where one is wanted.

    ValueError when there are not more rows than columns, or columns are parallel.
    """
    rows, unknowns = columns.shape
    if rows <= unknowns:
        raise ValueError(f"{rows} readings cannot settle {unknowns} unknowns and their scatter.")
    lengths = np.linalg.norm(columns, axis=0)
    if not lengths.all():
        raise ValueError("A column of nothing but zeros has no coefficient.")
    q, r = qr(columns / lengths, mode="economic")
    if np.abs(np.diag(r)).min() < 1e-13:
        raise ValueError("All readings lie at one tonnage; a rate needs readings at two at least.")
    solution = solve_triangular(r, q.T @ values)
    # one step of refinement wins back the digits that nearly parallel columns cost
    solution = solution + solve_triangular(r, q.T @ (values - columns / lengths @ solution))
    left = values - columns / lengths @ solution
    variance = float(left @ left) / (rows - unknowns)
    inverse = solve_triangular(r, np.eye(unknowns)) / lengths[:, None]
    return LeastSquares(
        solution / lengths, variance * inverse @ inverse.T, variance**0.5, rows - unknowns
    )
