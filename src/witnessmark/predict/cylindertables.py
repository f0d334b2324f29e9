"""The tables of a cylinder's trace for an engine and a regime: worked out once by the gas kernel, then looked up.

Building takes about four seconds of one core for each regime. The tables are kept under a digest of all that went into
them, the code of the kernel included: those of the usual cylinder come with the program
(:mod:`witnessmark.predict.shipped`), others stand in the user's cache folder once they are made.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, partial
from hashlib import sha256
from pathlib import Path

import numpy as np

from witnessmark.engine.stateplaces import VALVES
from witnessmark.engine.types import Engine
from witnessmark.physics.gasengine import usual_sizes, valve_train
from witnessmark.physics.lift import Lobe
from witnessmark.physics.slidercrank import CylinderGeometry
from witnessmark.physics.valveflow import Valves
from witnessmark.predict.expansion import Axis, Expansion, expand
from witnessmark.predict.shelf import digest_of_files, is_kept, keep, kept
from witnessmark.predict.stroke import PAIRS, REGIMES, RESULTS, Stroke, axes_of, described_by

__all__ = [
    "HELD_OUT",
    "Parts",
    "held_out",
    "made_already",
    "made_anew",
    "make_all",
    "names_of",
    "parts_of",
    "result",
    "tables_of",
]

_CODE = (
    "predict.expansion", "predict.stroke", "physics.gasengine", "physics.gaspath", "physics.gas", "physics.lift",
    "physics.slidercrank", "physics.valveflow", "physics.wallheat", "physics._gaspath",
)  # fmt: skip
HELD_OUT = 80
"""States on which the tables' error is measured."""
_SEED = 20_240
_REMEMBERED = 32
_AT_A_TIME = 2  # a third of the work is the interpreter's, and no two threads share that


def result(name: str) -> int:
    """Which column of the tables a result is.

    Parameters
    ----------
    name : str
        One of :data:`witnessmark.predict.stroke.RESULTS`.

    Returns
    -------
    int
    """
    return RESULTS.index(name)


@dataclass(frozen=True, slots=True)
class Parts:
    """What every prediction about an engine's cylinders needs of its description.

    Parameters
    ----------
    engine : Engine
    sizes : CylinderGeometry
    trains : mapping of str to (Lobe, Valves)
        "intake" and "exhaust".
    tables : dict of str to Expansion
        By regime, as far as they were asked for.
    """

    engine: Engine
    sizes: CylinderGeometry
    trains: Mapping[str, tuple[Lobe, Valves]]
    tables: dict[str, Expansion]


_PARTS: dict[int, Parts] = {}


def parts_of(engine: Engine) -> Parts:
    """Sizes, valve trains and tables of an engine, made at first need and remembered for the last few engines.

    Parameters
    ----------
    engine : Engine

    Returns
    -------
    Parts
    """
    found = _PARTS.get(id(engine))
    if found is None or found.engine is not engine:
        trains = {kind: valve_train(engine, kind) for kind in VALVES}
        found = Parts(engine, usual_sizes(engine), trains, {})
        while len(_PARTS) >= _REMEMBERED:
            _PARTS.pop(next(iter(_PARTS)), None)
        _PARTS[id(engine)] = found
    return found


def tables_of(engine: Engine, regime: str) -> Expansion:
    """Tables of one engine in one regime, made where they are not yet at hand.

    Parameters
    ----------
    engine : Engine
    regime : str
        One of :data:`witnessmark.predict.stroke.REGIMES`.

    Returns
    -------
    Expansion
    """
    tables = parts_of(engine).tables
    if regime not in tables:
        tables[regime] = _remembered(engine, regime)
    return tables[regime]


def made_already(engine: Engine) -> bool:
    """Whether the tables of an engine are at hand in every regime, so that nobody has to wait for them.

    Parameters
    ----------
    engine : Engine

    Returns
    -------
    bool
    """
    return all(name in _BY_NAME or is_kept(name) for name in names_of(engine))


def names_of(engine: Engine) -> tuple[str, ...]:
    """What the tables of an engine are kept under.

    Parameters
    ----------
    engine : Engine

    Returns
    -------
    tuple of str
        By regime; the same for all engines with such cylinders, and other ones after a change of the code.
    """
    return tuple(f"cylinder-{regime}-{_digest(engine, regime)}" for regime in REGIMES)


def make_all(engine: Engine) -> None:
    """Make what tables of an engine are missing, two regimes at a time: the kernel lets other threads run.

    Parameters
    ----------
    engine : Engine
    """
    missing = [regime for regime in REGIMES if regime not in parts_of(engine).tables]
    from concurrent.futures import ThreadPoolExecutor  # only who fills tables needs it

    with ThreadPoolExecutor(max_workers=_AT_A_TIME) as pool:
        list(pool.map(partial(tables_of, engine), missing))


_BY_NAME: dict[str, Expansion] = {}


def _remembered(engine: Engine, regime: str) -> Expansion:
    """Engines that differ in their drive only share their tables."""
    name = f"cylinder-{regime}-{_digest(engine, regime)}"
    if name not in _BY_NAME:
        made = _tables(engine, regime, name)
        while len(_BY_NAME) >= _REMEMBERED:
            _BY_NAME.pop(next(iter(_BY_NAME)), None)
        _BY_NAME[name] = made
    return _BY_NAME[name]


def _tables(engine: Engine, regime: str, name: str) -> Expansion:
    axes = axes_of(REGIMES[regime])
    stored = kept(name)
    if stored is not None and (found := _unpacked(stored, axes)) is not None:
        return found
    arrays, made = made_anew(engine, regime)
    keep(name, arrays)
    return made


def made_anew(engine: Engine, regime: str) -> tuple[dict[str, np.ndarray], Expansion]:
    """The tables of one regime worked out by the gas kernel, whatever is kept.

    Parameters
    ----------
    engine : Engine
    regime : str

    Returns
    -------
    arrays : dict of str to ndarray
        As they are kept; each has a shape of its own.
    made : Expansion
    """
    axes = axes_of(REGIMES[regime])
    made = expand(Stroke(engine, REGIMES[regime]), axes, PAIRS, held_out(axes, HELD_OUT))
    return _packed(made), made


def held_out(axes: tuple[Axis, ...], count: int, seed: int = _SEED) -> list[Mapping[str, float]]:
    """States such as come up: all numbers a little off, one or two of them far off.

    Parameters
    ----------
    axes : tuple of Axis
    count : int
    seed : int

    Returns
    -------
    list of mapping, shape (count,)
    """
    rng = np.random.default_rng(seed)
    found: list[Mapping[str, float]] = []
    for _ in range(count):
        far = set(rng.choice(len(axes), size=1 + int(rng.random() < 0.5), replace=False))
        one = {}
        for k, axis in enumerate(axes):
            middle = float(axis.on_scale(np.array([axis.anchor]))[0])
            low, high = -axis.below * axis.step, axis.above * axis.step
            # A healthy one strays by a third of a point of its axis; a faulty one anywhere in nine tenths of the axis.
            shift = rng.uniform(0.9 * low, 0.9 * high) if k in far else rng.normal(0.0, 0.35 * axis.step)
            one[axis.name] = float(axis.off_scale(np.array([middle + np.clip(shift, low, high)]))[0])
        found.append(one)
    return found


def _digest(engine: Engine, regime: str) -> str:
    """Of all that goes into the tables: what an engine's air is managed by, and how many cylinders it has, does not."""
    said = repr((described_by(engine), REGIMES[regime], PAIRS, RESULTS, HELD_OUT, _SEED))
    return sha256((_code_digest() + said).encode()).hexdigest()[:24]


@cache
def _code_digest() -> str:
    """Of the code that fills the tables: a change of the physics makes them anew. The kernel is read, not imported: the
    compiler is only for who fills tables.
    """
    home = Path(__file__).parents[1]
    return digest_of_files(*(home.joinpath(*name.split(".")).with_suffix(".py") for name in _CODE))


def _packed(made: Expansion) -> dict[str, np.ndarray]:
    lines, planes = made.at_points()
    arrays = {"middle": made.middle, "error": made.error}
    arrays |= {f"line_{k}": line for k, line in enumerate(lines)}
    return arrays | {f"plane_{k}": plane for k, plane in enumerate(planes)}


def _unpacked(arrays: Mapping[str, np.ndarray], axes: tuple[Axis, ...]) -> Expansion | None:
    """None where the file is not what it should be."""
    try:
        lines = tuple(arrays[f"line_{k}"] for k in range(len(axes)))
        planes = tuple(arrays[f"plane_{k}"] for k in range(len(PAIRS)))
        found = Expansion.through(axes, PAIRS, arrays["middle"], lines, planes, arrays["error"])
        found.read(len(RESULTS) - 1, found.place({axis.name: axis.points()[0][-1] for axis in axes}, 1))
    except (KeyError, IndexError, ValueError):
        return None
    return found
