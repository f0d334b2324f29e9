"""What pressure tests of a cylinder without combustion show: gauges, starter current, and traces of a transducer."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

import numpy as np
from numpy.typing import NDArray

from witnessmark.errors import EngineDefinitionError
from witnessmark.predict.batch import Batch
from witnessmark.predict.cylinderstate import Cylinders, cylinders
from witnessmark.predict.cylindertables import parts_of, result, tables_of
from witnessmark.predict.model import DriveModel, Values
from witnessmark.predict.rule import Nuisance, Rule, Tolerance
from witnessmark.predict.running import regime_of
from witnessmark.predict.soundcylinders import open_numbers, sound_cylinder
from witnessmark.predict.stroke import AMBIENT_PA
from witnessmark.vocabulary import Condition, Query

__all__ = ["RULES", "cylinder_of", "no_such_cylinder", "unsound_sizes", "when"]

Array = NDArray[np.float64]
Read = Callable[[Cylinders], Array]

_CURRENT_KEY = "cylinder:current_power"
_GAUGE_KEY, _GAUGE_SD = "gauge:compression", 0.035
"""What a gauge's own volume, hose and valve make of every cylinder alike, as a share; a few percent, our guess."""


def no_such_cylinder(model: DriveModel, query: Query) -> str | None:
    """Why a cylinder cannot be predicted: this engine has not got it, or its sizes cannot be.

    Parameters
    ----------
    model : DriveModel
    query : Query

    Returns
    -------
    str or None
    """
    count, asked = model.engine.cylinders, query.place.get("cylinder")
    if asked is not None and not 1 <= int(asked) <= count:
        return f"this engine has no cylinder {asked}; it has 1 to {count}"
    if asked is None and query.quantity not in ("vacuum_flicker",):
        return "nothing says which cylinder"
    return unsound_sizes(model)


def unsound_sizes(model: DriveModel) -> str | None:
    """Why the described sizes make no cylinder, or None where they do.

    Parameters
    ----------
    model : DriveModel

    Returns
    -------
    str or None
    """
    try:
        parts_of(model.engine)
    except EngineDefinitionError as error:
        return error.message
    return None


def cylinder_of(query: Query) -> int:
    """Which column a query's cylinder is.

    Parameters
    ----------
    query : Query

    Returns
    -------
    int
        From 0.
    """
    return int(query.place.get("cylinder") or 1) - 1


def when(query: Query, state: str) -> Condition:
    """The condition asked for; the test's own state where none is said.

    Parameters
    ----------
    query : Query
    state : str

    Returns
    -------
    Condition
    """
    said = query.condition
    return said if said.state is not None else Condition(state, said.speed_rpm, phaser=said.phaser)


# ---------------------------------------------------------------- readings


def _peak(found: Cylinders) -> Array:
    """Absolute [kPa]."""
    return found.plenum * np.exp(found.read("peak"))


def _compression_peak(batch: Batch, query: Query) -> Values:
    """Gauge: what its valve has held of the highest of several strokes, over ambient."""
    found = cylinders(batch, when(query, "cranking"), open_throttle=True)
    peak = batch.once(("gauge", query.condition), lambda: _peak(found) - found.outside)
    return np.maximum(peak[:, cylinder_of(query)] * (1.0 + batch.number(_GAUGE_KEY, 0.0)), 0.0)


def _compression_running(batch: Batch, query: Query) -> Values:
    found = cylinders(batch, when(query, "idle"))
    peak = batch.once(("running", query.condition), lambda: _peak(found) - found.outside)
    return np.maximum(peak[:, cylinder_of(query)] * (1.0 + batch.number(_GAUGE_KEY, 0.0)), 0.0)


def _relative(batch: Batch, query: Query) -> Values:
    """Percent of the best: starter current follows torque, or a power of it where its field is in series."""

    def shares() -> Array:
        found = cylinders(batch, when(query, "cranking"), open_throttle=True)
        torque = found.plenum * np.exp(found.read("torque"))
        best = np.maximum(torque.max(axis=1, keepdims=True), 1e-9)
        power = np.clip(np.asarray(batch.number(_CURRENT_KEY, 0.8)), 0.3, 1.2)
        return np.asarray(100.0 * (torque / best) ** (power[:, None] if power.ndim else power))

    return batch.once(("relative", query.condition), shares)[:, cylinder_of(query)]


def _of_trace(name: str, state: str, make: Callable[[Cylinders, Array], Array]) -> Callable[[Batch, Query], Values]:
    """A rule that reads one result of the tables and makes the quantity of it."""

    def rule(batch: Batch, query: Query) -> Values:
        found = cylinders(batch, when(query, state))
        made = batch.once((query.quantity, query.condition), lambda: make(found, found.read(name)))
        return made[:, cylinder_of(query)]

    return rule


# ---------------------------------------------------------------- how well it is known


def _known(name: str, state: str, absolute: float, share: float, scale: float = 0.0) -> Callable[..., Tolerance]:
    """What the formula leaves (our guess) and what the tables leave (measured on states held out), as squares.

    ``scale`` turns the tables' error into the quantity's unit; 0: the table holds a logarithm, its error is a share.
    """

    def tolerance(model: DriveModel, query: Query) -> Tolerance:
        off = float(tables_of(model.engine, regime_of(when(query, state))).error[result(name)])
        if scale:
            return Tolerance(float(np.hypot(absolute, scale * off)), share)
        return Tolerance(absolute, float(np.hypot(share, off)))

    return tolerance


def _sound(state: str, *, open_throttle: bool = False) -> Callable[[DriveModel, Query], Iterable[Nuisance]]:
    def differing(model: DriveModel, query: Query) -> Iterable[Nuisance]:
        now = when(query, state)
        yield from sound_cylinder(model, cylinder_of(query) + 1, now)
        yield from open_numbers(model, now, open_throttle=open_throttle)

    return differing


def _sound_at_gauge(state: str, *, open_throttle: bool = False) -> Callable[[DriveModel, Query], Iterable[Nuisance]]:
    own = _sound(state, open_throttle=open_throttle)

    def differing(model: DriveModel, query: Query) -> Iterable[Nuisance]:
        yield from own(model, query)
        yield Nuisance(_GAUGE_KEY, "", 0.0, _GAUGE_SD)

    return differing


def _sound_together(model: DriveModel, query: Query) -> Iterable[Nuisance]:
    """A comparison of cylinders: what all share cancels, what each has of its own does not."""
    now, banks = when(query, "cranking"), model.engine.bank_cylinders
    firsts = [members[0] for members in banks] if len(banks) > 1 else []
    for k in range(1, model.engine.cylinders + 1):
        yield from sound_cylinder(model, k, now, cams=k in firsts)
    yield Nuisance(_CURRENT_KEY, "", 0.8, 0.12)


def _over_ambient(found: Cylinders, level: Array) -> Array:
    return found.exhaust * np.exp(level) - found.outside


def _rule(
    read: Callable[[Batch, Query], Values], tolerance: Callable[[DriveModel, Query], Tolerance], state: str
) -> Rule:
    return Rule(read, tolerance, no_such_cylinder, _sound(state))


_kPa = 1e-3 * AMBIENT_PA

RULES: Mapping[str, Rule] = {
    "compression_peak": Rule(
        _compression_peak, _known("peak", "cranking", 0.0, 0.02), no_such_cylinder,
        _sound_at_gauge("cranking", open_throttle=True),
    ),
    "compression_running": Rule(
        _compression_running, _known("peak", "idle", 0.0, 0.05), no_such_cylinder, _sound_at_gauge("idle")
    ),
    "relative_compression": Rule(
        _relative, _known("torque", "cranking", 2.0, 0.0, 100.0), no_such_cylinder, _sound_together
    ),
    "tower_peak": _rule(
        _of_trace("peak", "cranking", lambda found, level: found.plenum * np.exp(level)),
        _known("peak", "cranking", 0.0, 0.03), "cranking",
    ),
    # A cranked engine slows unevenly about its compressions, and walls are known worst there.
    "loss_angle": _rule(
        _of_trace("loss", "cranking", lambda found, level: level),
        _known("loss", "cranking", 0.15, 0.12, 1.0), "cranking",
    ),
    "polytropic_exponent": _rule(
        _of_trace("exponent", "cranking", lambda found, level: level),
        _known("exponent", "cranking", 0.006, 0.0, 1.0), "cranking",
    ),
    "overlap_pressure": _rule(
        _of_trace("overlap", "idle", lambda found, level: found.exhaust * np.exp(level)),
        _known("overlap", "idle", 2.0, 0.05), "idle",
    ),
    "exhaust_plateau": _rule(
        _of_trace("plateau", "idle", _over_ambient), _known("plateau", "idle", 0.5, 0.2, _kPa), "idle"
    ),
}  # fmt: skip
