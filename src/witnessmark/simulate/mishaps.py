"""What goes wrong with logged values: contacts lost for a moment, values that stand still, step, or stay away."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.supply import SupplyGraph
from witnessmark.engine.supply_names import sensor_node
from witnessmark.engine.supply_usual import supply_of
from witnessmark.errors import one_of
from witnessmark.recording.parameters import signal_of
from witnessmark.simulate.bench import Bench
from witnessmark.simulate.course import STEP_S
from witnessmark.simulate.logged import Logged
from witnessmark.simulate.parts import edit_of

__all__ = ["KINDS", "Mishap", "contacts_lost", "mishandled", "node_of"]

FloatArray = NDArray[np.float64]

KINDS = ("lost", "missing", "frozen", "step")
_LEAST_S, _MOST_S = 0.1, 20.0
# The end of its scale to which a value goes when its wire is lost: by its pull-up or pull-down. From memory.
_ENDS = {"coolant": 0.0, "intake_air": 0.0, "oil_temperature": 0.0, "maf": 0.0, "throttle": 0.0, "pedal": 0.0,
         "engine_speed": 0.0, "vehicle_speed": 0.0, "map": 1.0, "rail_pressure": 0.0, "outside_air": 0.0}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Mishap:
    """Something that happens to values of a log.

    Parameters
    ----------
    kind : str
        "lost": at the end of the scale; "missing": no answer; "frozen": the last value again and again; "step": off by
        an amount from then on.
    signals : tuple of str
    at_s, seconds : float [s]
    amount : float [unit of the signals]
        Of a step.
    """

    kind: str
    signals: tuple[str, ...]
    at_s: float
    seconds: float
    amount: float = 0.0

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            raise one_of("mishap", self.kind, KINDS)


def contacts_lost(
    bench: Bench, columns: Sequence[Logged], seconds: float, lasting_s: float, rng: np.random.Generator
) -> list[Mishap]:
    """Losses of contact along a drive, by the state's rates: all sensors that hang on a node lose with it.

    Parameters
    ----------
    bench : Bench
    columns : sequence of Logged
    seconds : float [s]
        Of the drive.
    lasting_s : float [s]
        Mean length of one loss.
    rng : numpy.random.Generator

    Returns
    -------
    list of Mishap
    """
    graph = supply_of(bench.engine)
    hung = {column.signal: _hangs_on(graph, node_of(column)) for column in columns if node_of(column)}
    found: list[Mishap] = []
    for node in sorted({node for nodes in hung.values() for node in nodes}):
        rate = max(edit_of(bench.state, "dropout_rate", node), 0.0)
        struck = tuple(signal for signal, nodes in hung.items() if node in nodes)
        begin = np.sort(rng.uniform(0.0, seconds, rng.poisson(rate * seconds / 60.0)))
        last = np.clip(rng.exponential(lasting_s, begin.size), _LEAST_S, _MOST_S)
        found += [Mishap("lost", struck, *times) for times in zip(begin.tolist(), last.tolist(), strict=True)]
    return found


def node_of(column: Logged) -> str:
    """The sensor behind a value; empty where none is.

    Parameters
    ----------
    column : Logged

    Returns
    -------
    str
    """
    signal = signal_of(column.signal)
    return sensor_node(signal.id, bank=signal.bank, sensor=signal.sensor, cam=signal.cam)


def _hangs_on(graph: SupplyGraph, name: str) -> tuple[str, ...]:
    """A sensor, its feed and its ground, and theirs; not the module that reads it, nor what feeds that."""
    found, todo = [], [name]
    while todo:
        node = todo.pop()
        if node in found or (graph.has(node) and graph.node(node).kind in ("battery", "module")):
            continue
        found.append(node)
        if graph.has(node):
            todo += [one for one in (graph.node(node).feed, graph.node(node).ground) if one]
    return tuple(found)


def mishandled(
    shown: Mapping[str, FloatArray], columns: Sequence[Logged], mishaps: Sequence[Mishap]
) -> tuple[dict[str, FloatArray], dict[str, NDArray[np.bool_]]]:
    """Values with all mishaps in them, and where no answer comes.

    Parameters
    ----------
    shown : mapping of str to array, shape (n,)
        By key.
    columns : sequence of Logged
    mishaps : sequence of Mishap

    Returns
    -------
    values : dict of str to array, shape (n,)
    silent : dict of str to array of bool, shape (n,)
        By key; only where there is something.
    """
    values: dict[str, FloatArray] = dict(shown)
    silent: dict[str, NDArray[np.bool_]] = {}
    for one in sorted(mishaps, key=lambda m: m.kind == "lost"):
        first, last = (
            round(one.at_s / STEP_S),
            max(round((one.at_s + one.seconds) / STEP_S), round(one.at_s / STEP_S) + 1),
        )
        for column in columns:
            if column.signal not in one.signals or first >= values[column.key].size:
                continue
            if one.kind == "missing":
                silent.setdefault(column.key, np.zeros(values[column.key].size, dtype=bool))[first:last] = True
                continue
            changed = values[column.key].copy()
            if one.kind == "step":
                changed[first:last] += one.amount
            else:
                changed[first:last] = (
                    changed[max(first - 1, 0)] if one.kind == "frozen" or _holds(column) else _end(column)
                )
            values[column.key] = changed
    return values, silent


def _holds(column: Logged) -> bool:
    """Of what goes to no end of its scale a computer shows the last that it knew."""
    return column.signal.split()[0] not in _ENDS


def _end(column: Logged) -> float:
    share = _ENDS[column.signal.split()[0]]
    return column.offset + column.factor * share * column.most
