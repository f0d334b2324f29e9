"""Points over two severities, line by line, made closer where an integral hangs on them.

A limit that sets a code or a signal, and the end of a reading, make steps that no mode tells of; they lie along curves.
So every inner line gets points where its own integral hangs most on what is between, and so does the outer axis, whose
new lines follow their neighbours.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.infer.logsum import log_sum
from witnessmark.infer.quadrature import node_masses, unevenness, worst_gaps

__all__ = ["Mesh"]

Array = NDArray[np.float64]
_LINES, _POINTS = 3, 4  # added at a time: outer lines, and points of every inner line
_UNEVEN = 0.015  # squares of nats, of bends between outer lines


@dataclass(frozen=True, slots=True)
class Mesh:
    """Points of a sheet and the log of the function there.

    Parameters
    ----------
    outer : ndarray, shape (m,)
        Rising.
    inner : ndarray, shape (m, n)
        Rising along each line.
    y : ndarray, shape (m, n)
        Not a number where it is not known yet.
    """

    outer: Array
    inner: Array
    y: Array

    @classmethod
    def of(cls, points: Array) -> Mesh:
        """Points that stand line by line, each inner line with as many.

        Parameters
        ----------
        points : ndarray, shape (m n, 2)

        Returns
        -------
        Mesh
        """
        outer = np.unique(points[:, 0])
        inner = points[:, 1].reshape(len(outer), -1)
        return cls(outer, inner, np.full(inner.shape, np.nan))

    @property
    def points(self) -> Array:
        """Outer and inner share of all points, shape (m n, 2), line by line."""
        return np.stack([np.repeat(self.outer, self.inner.shape[1]), self.inner.ravel()], axis=1)

    @property
    def unknown(self) -> Array:
        """Points at which the function is not known yet, shape (k, 2)."""
        return self.points[np.isnan(self.y).ravel()]

    def known(self, y: Array) -> Mesh:
        """The same with what was not known.

        Parameters
        ----------
        y : ndarray, shape (k,)
            At :attr:`unknown`.

        Returns
        -------
        Mesh
        """
        whole = self.y.copy()
        whole[np.isnan(whole)] = y
        return Mesh(self.outer, self.inner, whole)

    def log_mass(self) -> Array:
        """Log of quadrature weight x function, shape (m n,): along each inner line, then their totals along the outer.

        Returns
        -------
        ndarray, shape (m n,)
        """
        mass = node_masses(self.inner, self.y)
        totals = log_sum(mass)
        lines = node_masses(self.outer[None, :], totals[None, :])[0]
        with np.errstate(invalid="ignore"):
            return np.asarray(np.nan_to_num(mass + (lines - totals)[:, None], nan=-np.inf)).ravel()

    def is_uneven(self) -> bool:
        """Whether the outer axis still bends sharply between its lines, where there is mass.

        Returns
        -------
        bool
        """
        totals = log_sum(node_masses(self.inner, self.y))
        return bool(unevenness(self.outer[None, :], totals[None, :])[0] > _UNEVEN)

    def closer(self) -> Mesh:
        """More points where the integral hangs on them most, at which the function is not known.

        Returns
        -------
        Mesh
        """
        totals = log_sum(node_masses(self.inner, self.y))
        added = worst_gaps(self.inner, self.y, _POINTS)
        inner = np.concatenate([self.inner, added], axis=1)
        order = np.argsort(inner, axis=1, kind="stable")
        y = np.take_along_axis(np.concatenate([self.y, np.full(added.shape, np.nan)], axis=1), order, axis=1)
        inner = np.take_along_axis(inner, order, axis=1)
        between = np.sort(worst_gaps(self.outer[None, :], totals[None, :], _LINES)[0])
        at = np.searchsorted(self.outer, between)
        part = ((between - self.outer[at - 1]) / (self.outer[at] - self.outer[at - 1]))[:, None]
        lines = inner[at - 1] + part * (inner[at] - inner[at - 1])
        return Mesh(
            np.insert(self.outer, at, between),
            np.insert(inner, at, lines, axis=0),
            np.insert(y, at, np.full(lines.shape, np.nan), axis=0),
        )
