"""Everything that one engine shows, predicted beforehand: each fault on a net of sizes, each sound difference alone."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchmarks.vehicles.variant import Seen, Variant, Way
from witnessmark.catalogue.faults import FaultInstance, Kind

__all__ = ["Bank", "Net", "make_bank", "sizes_of"]

Array = NDArray[np.float64]

_NODES, _NODES_TWO, _DRAWN = 9, 5, 40  # predictions along one size, along each of two, and of three sizes
_CELLS, _CELLS_TWO = 25, 11  # cells of the net between them
_SOUND = 150  # sound engines drawn for what bends and for the codes of sound engines
_ALIKE, _SOFT = 0.02, 0.15  # a chance moved by less is the sound engines'; others lean to theirs by so much
_PARTS = ("mean", "tolerance", "yes", "code")


@dataclass(frozen=True)
class Net:
    """Cells of one fault: its kinds and sizes, as rows of the bank."""

    first: int
    stop: int

    @property
    def rows(self) -> NDArray[np.intp]:
        """Their numbers."""
        return np.arange(self.first, self.stop)


@dataclass
class Bank:
    """One variant with everything predicted beforehand.

    Parameters
    ----------
    variant : Variant
    cells : list of (Kind, ndarray)
        Kind, and shares of the sizes, of every row.
    share : ndarray, shape (cells,)
        Of its fault's prior.
    seen : Seen
        At the centre of every cell, sound otherwise; the first row is the sound engine. Chances of answers and codes
        are those of many sound engines where the fault does not move them.
    nets : list of Net
        Of every fault of the catalogue, then of those outside.
    slope : ndarray, shape (d, q)
        Of every reading along every healthy difference.
    bent : ndarray, shape (q,)
        How far sound engines lie off those straight lines.
    tolerance : ndarray, shape (q,)
        The usual one.
    """

    variant: Variant
    cells: list[tuple[Kind, Array]]
    share: Array
    seen: Seen
    nets: list[Net]
    slope: Array
    bent: Array
    tolerance: Array

    @property
    def instances(self) -> tuple[FaultInstance, ...]:
        """Of the catalogue, then outside it."""
        return (*self.variant.instances, *self.variant.outside)


def make_bank(variant: Variant, rng: np.random.Generator) -> Bank:
    """Predict every fault of an engine on a net of sizes, and its sound differences one at a time.

    Parameters
    ----------
    variant : Variant
    rng : numpy Generator
        For the sound engines that tell what bends, and the faults of three sizes.
    """
    zero, step = np.zeros(variant.count), np.eye(variant.count)
    draws = rng.standard_normal((_SOUND, variant.count))
    healthy = variant.see([()] * (1 + 2 * variant.count), np.vstack([zero, step, -step]), blended=True)
    up, down = healthy.mean[1 : 1 + variant.count], healthy.mean[1 + variant.count :]
    slope = np.nan_to_num(0.5 * (up - down))
    truly = variant.see([()] * len(draws), draws)
    off = truly.mean - healthy.mean[0] - draws @ slope
    there = ~np.isnan(off)
    count = np.maximum(there.sum(axis=0), 1)
    centre = np.where(there, off, 0.0).sum(axis=0) / count
    bent = np.sqrt(np.where(there, (off - centre) ** 2, 0.0).sum(axis=0) / count)
    kinds = [(kind, i) for i, one in enumerate((*variant.instances, *variant.outside)) for kind in one.kinds]
    ways: list[Way] = []
    starts = []
    for kind, _ in kinds:
        starts.append(len(ways))
        ways += [((kind, sizes_of(kind, share)),) for share in _nodes(kind, rng)]
    coarse = variant.see(ways, np.zeros((len(ways), variant.count)), blended=True)
    cells, share, seen, nets = _refined(healthy.rows([0]), coarse, kinds, starts, ways)
    seen.mean[:] += centre.astype(np.float32)  # what bends moves the mean too
    seen = Seen(seen.mean, seen.tolerance, _softened(seen.yes, truly.yes), _softened(seen.code, truly.code))
    usual = np.median(np.nan_to_num(truly.tolerance), axis=0)
    return Bank(variant, cells, share, seen, nets, slope, bent, usual)


def _softened(chance: Array, sound: Array) -> Array:
    """Chances over all sound differences: a first look only, what stands is drawn for itself later."""
    usual = sound.mean(axis=0)
    moved = np.abs(chance - chance[:1]) > _ALIKE
    return np.where(moved, (1.0 - _SOFT) * chance + _SOFT * usual, usual).astype(np.float32)


def sizes_of(kind: Kind, share: Array) -> Array:
    """Sizes of a kind of fault at shares of their prior, shape (axes,)."""
    return np.array([float(axis.at(np.array([s]))[0]) for axis, s in zip(kind.axes, share, strict=True)])


def _shares(kind: Kind, sizes: Array) -> Array:
    return np.array([float(axis.share(np.array([s]))[0]) for axis, s in zip(kind.axes, sizes, strict=True)])


def _nodes(kind: Kind, rng: np.random.Generator) -> Array:
    if len(kind.axes) == 0:
        return np.zeros((1, 0))
    if len(kind.axes) == 1:
        return np.linspace(0.0, 1.0, _NODES)[:, None]
    if len(kind.axes) == 2:
        line = np.linspace(0.0, 1.0, _NODES_TWO)
        return np.array(list(itertools.product(line, line)))
    return np.asarray(rng.random((_DRAWN, len(kind.axes))))


def _refined(
    healthy: Seen, coarse: Seen, kinds: list[tuple[Kind, int]], starts: list[int], ways: list[Way]
) -> tuple[list[tuple[Kind, Array]], Array, Seen, list[Net]]:
    """Cells between the nodes, straight between them."""
    cells: list[tuple[Kind, Array]] = [(Kind(1.0, (), ()), np.zeros(0))]
    parts, shares, counts = [healthy], [np.ones(1)], [0] * (max(i for _, i in kinds) + 1)
    ends = [*starts[1:], len(ways)]
    for (kind, i), start, stop in zip(kinds, starts, ends, strict=True):
        own = coarse.rows(slice(start, stop))
        axes = len(kind.axes)
        if axes in (1, 2):
            nodes, many = (_NODES, _CELLS) if axes == 1 else (_NODES_TWO, _CELLS_TWO)
            middle = (np.arange(many) + 0.5) / many
            line = _hat(nodes, middle)
            mix = line if axes == 1 else np.kron(line, line)
            own = Seen(*(_mixed(mix, getattr(own, name)) for name in _PARTS))
            centres = middle[:, None] if axes == 1 else np.array(list(itertools.product(middle, middle)))
        else:
            centres = np.array([_shares(kind, way[0][1]) for way in ways[start:stop]]).reshape(stop - start, axes)
        cells += [(kind, centre) for centre in centres]
        shares.append(np.full(len(centres), kind.weight / len(centres)))
        parts.append(own)
        counts[i] += len(centres)
    seen = Seen(*(np.concatenate([getattr(p, n) for p in parts]).astype(np.float32) for n in _PARTS))
    edges = 1 + np.concatenate([[0], np.cumsum(counts)])
    nets = [Net(int(a), int(b)) for a, b in itertools.pairwise(edges)]
    share = np.concatenate(shares)
    for net in nets:
        share[net.first : net.stop] /= share[net.first : net.stop].sum()
    return cells, share, seen, nets


def _hat(nodes: int, at: Array) -> Array:
    """Weights of the nodes in a straight line at some places, shape (places, nodes)."""
    position = at * (nodes - 1)
    return np.maximum(1.0 - np.abs(position[:, None] - np.arange(nodes)), 0.0)


def _mixed(mix: Array, values: Array) -> Array:
    """Straight between nodes; where one of them has no reading there is none."""
    flat = values.reshape(len(values), -1)
    found = mix @ np.nan_to_num(flat)
    found[(mix > 0.0).astype(float) @ np.isnan(flat).astype(float) > 0.0] = np.nan
    return found.reshape(len(mix), *values.shape[1:])
