"""What an unlisted cause would show: about the same again where it has shown already."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from witnessmark.finding import Finding
from witnessmark.infer.points import Particles
from witnessmark.infer.sound import Sound
from witnessmark.infer.testreadings import is_chance
from witnessmark.vocabulary import Place, Query

__all__ = ["KIN", "repeat"]

Array = NDArray[np.float64]

_CAM_ANGLES = {"cam_deviation", "cam_phase_reported", "cam_phase_error"}
_NO_POSITION = {"phase_scatter", "wheel_pitch_error", "edges_missing", "phaser_slew", "signal_polarity"}
_REPEATS_WITHIN = 2.0  # deg: how well an unlisted cause repeats itself on the same cam; our guess

KIN: tuple[frozenset[str], ...] = (
    frozenset({"charging_volts", "supply_reported"}),
    frozenset({"cranking_volts", "supply_reported"}),
    frozenset({"compression_peak", "relative_compression", "compression_running", "tower_peak"}),
    frozenset({"misfire_count", "contribution"}),
    frozenset({"manifold_vacuum", "map_reported"}),
    frozenset({"fuel_pressure", "rail_reported"}),
    frozenset({"cranking_speed", "engine_speed", "speed_measured"}),
    frozenset({"exhaust_gas_share", "lambda_reported"}),
)
"""Quantities by which different instruments read one and the same thing, by their definitions."""


def repeat(cloud: Particles, queries: Sequence[Query], sound: Sound, mean: Array, broad: Array) -> None:
    """Put into the points of none_of_these what such a cause repeats.

    Parameters
    ----------
    cloud : Particles
    queries : sequence of Query, length q
    sound : Sound
        Their readings on a sound engine.
    mean : ndarray, shape (n, q)
        On all points; those of none_of_these are changed.
    broad : ndarray, shape (q,)
        How far a cause may move each; changed too.

    Notes
    -----
    The same quantity at the same place, in another state or on another occasion, is taken to be as it was found; half
    of what it does may be of the state. The same thing read by another instrument is taken to be what the causes of the
    list that explain the findings would show there, on the average. Otherwise a cheap second reading of what is known
    already would seem to tell an unlisted cause from a listed one.
    """
    findings = [f for f in cloud.post.worlds[0].findings.measured if _counts(f)]
    read: dict[tuple[str, Place], list[float]] = {}
    for finding in findings:
        read.setdefault((finding.quantity, finding.place), []).append(finding.value)
    explaining = _explaining(cloud)
    for j, query in enumerate(queries):
        if query.quantity in _NO_POSITION:  # nothing says that an unlisted cause would show here at all
            broad[j] = 0.0
        elif is_chance(query) or query.condition.during is not None:
            continue
        elif (query.quantity, query.place) in read:
            at, broad[j] = _as_found(query, read, float(np.nan_to_num(sound.mean[j])))
            mean[cloud.none_from :, j] = at
        elif any(_is_kin(query, finding) for finding in findings) and explaining.any():
            _as_listed(cloud, explaining, mean[:, j], broad, j)


def _counts(finding: Finding) -> bool:
    return finding.condition.complaint != "absent" and finding.condition.during is None


def _as_found(query: Query, read: Mapping[tuple[str, Place], Sequence[float]], usual: float) -> tuple[float, float]:
    values = read[query.quantity, query.place]
    middle = float(np.mean(values))
    if query.quantity in _CAM_ANGLES:
        return middle, _REPEATS_WITHIN
    return middle, max(0.5 * abs(middle - usual), float(np.std(values)), query.kind.default_sd(middle))


def _explaining(cloud: Particles) -> NDArray[np.bool_]:
    """Points of listed causes that what was found speaks of; those that nothing found would show are left out."""
    unseen = {one.integrated.component.key for one in cloud.post.unseen}
    found = np.zeros(len(cloud.weight), dtype=bool)
    for part in cloud.parts:
        at = part.start
        for rows in part.rows:
            found[at : at + len(rows.share)] = rows.component.key not in unseen
            at += len(rows.share)
    return found


def _as_listed(cloud: Particles, explaining: NDArray[np.bool_], mean: Array, broad: Array, j: int) -> None:
    there = explaining & np.isfinite(mean)
    if not there.any():
        return
    weight = cloud.weight[there] / cloud.weight[there].sum()
    middle = float(weight @ mean[there])
    mean[cloud.none_from :] = middle
    broad[j] = max(float(np.sqrt(weight @ (mean[there] - middle) ** 2)), 0.5 * broad[j])


def _is_kin(query: Query, finding: Finding) -> bool:
    alike = any(query.quantity in kin and finding.quantity in kin for kin in KIN)
    return (
        alike and _mode(query.condition.state) == _mode(finding.condition.state) and _meet(query.place, finding.place)
    )


def _meet(place: Place, other: Place) -> bool:
    """Whether two places are one as far as both say: cylinder 3 is not cylinder 1. All gases come out of one pipe."""
    return all(other.get(key) in (None, value) for key, value in place.items if key != "gas")


def _mode(state: str | None) -> str:
    return state if state in ("off", "key_on", "cranking") else "running"
