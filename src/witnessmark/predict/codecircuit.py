"""Chances of the codes of circuits: the volts that a pin would see, against limits at which circuits count as broken.

Sensors by the physics of their input (:mod:`witnessmark.physics.sensorcircuit`) at the volts that the supply graph
leaves them; actuators by the volts at the pin of their driver. Where a sensor's input leads when nothing drives it, up
or down, is the maker's choice: odds. All limits and odds here are our guess, of the order of what is usual.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.catalogue.codes import Code
from witnessmark.engine.state import healthy_of
from witnessmark.engine.stateplaces import SENSORS, state_places
from witnessmark.engine.supply import SupplyGraph
from witnessmark.engine.supply_names import CAM_PARTS
from witnessmark.engine.supply_usual import supply_of
from witnessmark.physics.sensorcircuit import SignalInput, Thermistor, pin_volts, thermistor_ohm
from witnessmark.predict.batch import Batch
from witnessmark.predict.codelimits import Limits
from witnessmark.predict.codenames import meant
from witnessmark.predict.feeds import modules, way_of
from witnessmark.predict.supplies import driven, feed_of, solution
from witnessmark.predict.wires import is_actuator, load_ohm, shaken

__all__ = ["KINDS", "circuit", "comes_and_goes", "looked_at"]

_Array = NDArray[np.float64]

KINDS = ("circuit", "open", "low", "high", "shorted", "intermittent", "no_activity", "no_signal")
"""Kinds of code that follow from a circuit alone."""

_ONE_OF_TWO = 0.6  # makers that say "circuit" where others say low or high
_PER_MINUTE = 10.0  # losses of contact each minute that are noticed two times out of three

# Volts at the pin of a sensor: 0.2 and 4.8 V are common practice, no source.
_LOW = Limits((0.15, 0.2, 0.25), (0.3, 0.4, 0.3), 0.02)
_HIGH = Limits((4.75, 4.82, 4.9), (0.3, 0.4, 0.3), 0.02)
_O2_LOW = Limits((0.03, 0.05, 0.08), (0.3, 0.4, 0.3), 0.01)
_O2_HIGH = Limits((1.1, 1.2, 1.4), (0.3, 0.4, 0.3), 0.04)
_O2_FLAT = Limits((0.1, 0.2, 0.3), (0.3, 0.4, 0.3), 0.03)  # share of a sound swing under which a sensor shows nothing

_COLD_C, _WARM_C = 20.0, 90.0
_PULL_OHM = 100e3  # of an input that a sensor drives by itself
_OUTPUT_OHM = 1000.0
_BATTERY_V = 12.0
_OPEN_OHM = 1e9


@dataclass(frozen=True, slots=True)
class _Sensor:
    """How a sensor is usually wired.

    Parameters
    ----------
    kind : str
        "thermistor", "divider" (a share of its supply), "meter" (volts of its own), "oxygen", "knock".
    share : float [-]
        Of 5 V, at rest.
    up : float [-]
        Odds that its input is pulled up.
    """

    kind: str
    share: float = 0.4
    up: float = 0.5


_SENSORS: Mapping[str, _Sensor] = {
    "iat": _Sensor("thermistor"),
    "ect": _Sensor("thermistor"),
    "map": _Sensor("divider", share=0.8),
    "boost": _Sensor("divider", share=0.4),
    "throttle_sensor": _Sensor("divider", share=0.15),
    "pedal": _Sensor("divider", share=0.15, up=0.3),
    "rail": _Sensor("divider", share=0.2),
    "maf": _Sensor("meter", share=0.2, up=0.1),
    "knock": _Sensor("knock"),
    "o2_front": _Sensor("oxygen"),
    "o2_rear": _Sensor("oxygen"),
}


def circuit(batch: Batch, code: Code) -> _Array | None:
    """Chance that a circuit counts as broken in the way of a code.

    Parameters
    ----------
    batch : Batch
    code : Code
        One whose ``circuit`` and ``part`` are said, of a kind in :data:`KINDS`.

    Returns
    -------
    ndarray, shape (n,) [-], or None
        Averaged over what its letters may mean; None where this engine has no such part.
    """
    total: _Array | None = None
    for name, odds in meant(batch.model.engine, code):
        found = _of_part(batch, name, code)
        if found is not None:
            total = odds * found + (0.0 if total is None else total)
    return total


def looked_at(batch: Batch, code: Code) -> _Array:
    """Chance that what a sensor shows is judged at all: a circuit that counts as broken stops its other monitors.

    Parameters
    ----------
    batch : Batch
    code : Code
        One of a sensor whose signal it watches.

    Returns
    -------
    ndarray, shape (n,) [-]
        1 where nothing is known of its circuit.
    """
    total = np.zeros(batch.rows)
    parts = meant(batch.model.engine, code)
    for name, odds in parts:
        found = _signal(batch, name, replace(code, kind="circuit", alone=True))
        total = total + odds * (0.0 if found is None else np.clip(found, 0.0, 1.0))
    return np.asarray(1.0 - total)


def _of_part(batch: Batch, name: str, code: Code) -> _Array | None:
    if name in ("injectors", "coils"):
        return _of_all(batch, name.removesuffix("s"), code)
    if code.kind == "intermittent":
        return comes_and_goes(batch, name) if _is_there(batch, name) else None
    if code.circuit == "signal":
        return _signal(batch, name, code)
    node = _node(supply_of(batch.model.engine), name)
    if node is None:
        return None
    return _fed(batch, node, code) if code.circuit == "fed" else _driver(batch, node, name, code)


def _of_all(batch: Batch, what: str, code: Code) -> _Array | None:
    each = [_of_part(batch, f"{what}_{k}", code) for k in range(1, batch.model.engine.cylinders + 1)]
    known = [one for one in each if one is not None]
    return np.asarray(1.0 - np.prod([1.0 - one for one in known], axis=0)) if known else None


def _is_there(batch: Batch, name: str) -> bool:
    engine = batch.model.engine
    return _node(supply_of(engine), name) is not None or name in (*SENSORS, *state_places(engine, "oxygen_sensor"))


def _node(graph: SupplyGraph, name: str) -> str | None:
    """The node of a part: by its name, else the one that stands for all of its kind."""
    kinds = (*CAM_PARTS, "o2_front", "o2_rear")
    return next((one for one in (name, *(k for k in kinds if name.startswith(f"{k}_"))) if graph.has(one)), None)


def _names(batch: Batch, name: str) -> tuple[str, ...]:
    """Where the state may keep what is wrong with a part's circuit: by its name, and by its node's."""
    node = _node(supply_of(batch.model.engine), name)
    return (name,) if node in (None, name) else (name, str(node))


def _path(batch: Batch, name: str) -> tuple[str, ...]:
    """What lies between a part and whoever reads and feeds it: a dead computer sets no codes, so it is left out."""
    engine = batch.model.engine
    far = {one for module in modules(engine) for one in way_of(engine, module)}
    ways = dict.fromkeys(one for start in _names(batch, name) for one in way_of(engine, start))
    return tuple(one for one in ways if one not in far)


def _extra_ohm(batch: Batch, names: Sequence[str]) -> _Array:
    total = np.zeros(batch.rows)
    for name in names:
        total = total + np.maximum(batch.column("resistance", name) - healthy_of("resistance", name)[0], 0.0)
    return total


def _shorts(batch: Batch, name: str) -> tuple[_Array, _Array]:
    """Conductance to ground, and to something that holds volts: the supply, a neighbour."""
    return batch.once(("shorts at", name), lambda: _shorts_at(batch, name))


def _shorts_at(batch: Batch, name: str) -> tuple[_Array, _Array]:
    down = up = np.zeros(batch.rows)
    names = _names(batch, name)
    for variable, place in batch.state.edits:
        start, _, end = place.partition(":")
        if variable != "shorting" or start not in names:
            continue
        leak = np.maximum(batch.column("shorting", place), 0.0)
        down, up = (down + leak, up) if end in ("", "ground") else (down, up + leak)
    return down, up


def comes_and_goes(batch: Batch, name: str) -> _Array:
    """Chance that losses of contact along a part's wires are noticed.

    Parameters
    ----------
    batch : Batch
    name : str
        Of the part.

    Returns
    -------
    ndarray, shape (n,) [-]
    """
    names = shaken(supply_of(batch.model.engine), _path(batch, name))
    rate = sum((batch.column("dropout_rate", one) for one in names), np.zeros(batch.rows))
    return np.asarray(-np.expm1(-np.maximum(rate, 0.0) / _PER_MINUTE))


# ---------------------------------------------------------------- sensors


def _signal(batch: Batch, name: str, code: Code) -> _Array | None:
    sensor = _SENSORS.get(name) or _SENSORS.get(name.rpartition("_")[0])
    if sensor is None or not _is_there(batch, name):
        return None
    if name == "boost" and _node(supply_of(batch.model.engine), name) is None:
        return None
    there = _share_with_meter(batch) if name == "maf" else 1.0
    if there == 0.0:
        return None
    low, high, nothing = batch.once(("signal ends", name), lambda: _ends(batch, name, sensor))
    either = 1.0 - (1.0 - low) * (1.0 - high)
    found = {"low": low, "high": high, "no_activity": nothing, "no_signal": nothing}.get(code.kind)
    if found is None:
        broken = 1.0 - (1.0 - either) * (1.0 - nothing)
        found = broken if code.alone else _ONE_OF_TWO * broken
    return np.asarray(there * found, dtype=np.float64)


def _share_with_meter(batch: Batch) -> float:
    metering = batch.model.engine.breathing.air.metering
    return {"speed_density": 0.0, None: 0.5}.get(metering, 1.0)


def _ends(batch: Batch, name: str, sensor: _Sensor) -> tuple[_Array, _Array, _Array]:
    """Chance of a signal at its lower end, at its upper end, and of none."""
    if sensor.kind == "thermistor":
        return _thermistor(batch, name)
    if sensor.kind == "oxygen":
        return _oxygen(batch, name)
    if sensor.kind == "knock":
        return _knock(batch, name)
    ends = [np.zeros(batch.rows), np.zeros(batch.rows)]
    for up, odds in ((True, sensor.up), (False, 1.0 - sensor.up)):
        # What is open at the sensor itself is as likely its feed as its signal.
        for on_signal in (True, False):
            volts = _driven_volts(batch, name, sensor, up=up, on_signal=on_signal)
            ends[0] = ends[0] + 0.5 * odds * _LOW.undercut(volts)
            ends[1] = ends[1] + 0.5 * odds * _HIGH.crossed(volts)
    return ends[0], ends[1], np.zeros(batch.rows)


def _driven_volts(batch: Batch, name: str, sensor: _Sensor, *, up: bool, on_signal: bool) -> _Array:
    """At the pin that reads a sensor which drives it: what it makes of its supply, through its wire."""
    plus, minus = _across(batch, name)
    own = _extra_ohm(batch, _names(batch, name))
    fed = np.asarray(plus - minus)
    if not on_signal:
        fed = fed * _OUTPUT_OHM / (_OUTPUT_OHM + own)
    gain = np.maximum(batch.column("sensor_gain", name), 0.0)
    if sensor.kind == "meter":
        source = minus + np.clip(fed / 4.0, 0.0, 1.0) * np.minimum(5.0 * sensor.share * gain, 4.6)
    else:
        source = minus + np.clip(sensor.share * gain, 0.0, 0.93) * np.maximum(fed, 0.0)
    down, short_up = _shorts(batch, name)
    pull = SignalInput(5.0 if up else 0.0, _PULL_OHM)
    wire = np.where(on_signal, own, 0.0)
    return _clamped(source, _OUTPUT_OHM, pull, wire, down, short_up)


def _clamped(source: _Array, ohm: _Array | float, pull: SignalInput, wire: _Array, down: _Array, up: _Array) -> _Array:
    total = down + up
    short_volts = np.divide(_BATTERY_V * up, total, out=np.zeros_like(total), where=total > 0.0)
    found = pin_volts(source, ohm, pin=pull, wire_ohm=wire, shorting=total, short_volts=short_volts)
    return np.asarray(np.clip(found, 0.0, 5.0), dtype=np.float64)


def _across(batch: Batch, name: str) -> tuple[_Array, _Array]:
    """Volts at a sensor's plus and minus, against the ground of the computer."""
    return batch.once(("across", name), lambda: _volts_across(batch, name))


def _volts_across(batch: Batch, name: str) -> tuple[_Array, _Array]:
    graph = supply_of(batch.model.engine)
    node = _node(graph, name)
    if node is None:
        down = _extra_ohm(batch, (name,))
        return 5.0 * _OUTPUT_OHM / (_OUTPUT_OHM + down), np.zeros(batch.rows)
    # The short that is on the signal is not on the supply: the graph knows one node only.
    found = solution(batch, "key_on")
    ground = found.volts["ecu"] - found.load_volts["ecu"] if graph.has("ecu") else 0.0
    plus = found.volts[node] - ground
    return np.asarray(plus), np.asarray(plus - found.load_volts[node])


def _thermistor(batch: Batch, name: str) -> tuple[_Array, _Array, _Array]:
    """A resistor under a pull-up: open is high volts, shorted low ones, whatever the temperature."""
    way = _extra_ohm(batch, _path(batch, name))
    down, up = _shorts(batch, name)
    low = high = np.zeros(batch.rows)
    for celsius in (_COLD_C,) if name == "iat" else (_COLD_C, _WARM_C):
        shown = np.clip(celsius + batch.column("sensor_offset", name), -60.0, 200.0)
        ohm = np.asarray(thermistor_ohm(shown, Thermistor()))
        volts = _clamped(np.zeros(batch.rows), ohm, SignalInput(), np.minimum(way, _OPEN_OHM), down, up)
        low, high = np.maximum(low, _LOW.undercut(volts)), np.maximum(high, _HIGH.crossed(volts))
    return low, high, np.zeros(batch.rows)


def _oxygen(batch: Batch, name: str) -> tuple[_Array, _Array, _Array]:
    """A source of 0.1 to 0.9 V against the input's own bias in the middle: open it stays there and shows nothing."""
    down, up = _shorts(batch, name)
    way = np.minimum(_extra_ohm(batch, _names(batch, name)), _OPEN_OHM)
    bias, inside = SignalInput(0.45, 1e6), 1e4
    # Low only where also the lean end is below what a sensor ever shows; high where the rich end is above it.
    lean = _clamped(np.full(batch.rows, 0.1), inside, bias, way, down, up)
    rich = _clamped(np.full(batch.rows, 0.9), inside, bias, way, down, up)
    swing = (rich - lean) / 0.8 * np.maximum(batch.column("sensor_gain", name), 0.0)
    low, high = _O2_LOW.undercut(rich), _O2_HIGH.crossed(rich)
    return low, high, np.asarray(_O2_FLAT.undercut(swing) * (1.0 - low) * (1.0 - high))


def _knock(batch: Batch, name: str) -> tuple[_Array, _Array, _Array]:
    """A crystal that makes its own volts about the input's bias: its hiss is watched, and the bias."""
    down, up = _shorts(batch, name)
    way = np.minimum(_extra_ohm(batch, _path(batch, name)), _OPEN_OHM)
    bias = _clamped(np.full(batch.rows, 2.5), 1e5, SignalInput(2.5, 1e5), np.zeros(batch.rows), down, up)
    heard = np.maximum(batch.column("sensor_gain", name), 0.0) * 1e5 / (1e5 + way)
    low = np.maximum(_LOW.undercut(bias), Limits((0.1, 0.2, 0.3), (0.3, 0.4, 0.3), 0.02).undercut(heard))
    high = np.maximum(_HIGH.crossed(bias), Limits((2.2, 2.5, 2.8), (0.3, 0.4, 0.3), 0.1).crossed(heard))
    return low, high, np.zeros(batch.rows)


# ---------------------------------------------------------------- actuators

_PIN_LOW = Limits((1.2, 1.8, 2.2), (0.3, 0.4, 0.3), 0.1)  # volts at a driver that is off
_PIN_SOUND = Limits((3.2, 4.0, 5.0), (0.3, 0.4, 0.3), 0.2)  # above: the load holds it up
_BIAS_V, _BIAS_OHM = 2.5, 1e4
_BIASED = 0.5  # drivers that hold an open pin half way, so that open and shorted tell apart
_OVER = Limits((1.6, 2.0, 3.0), (0.3, 0.4, 0.3), 0.1)  # of its usual current, with which a driver shuts off
_DRIVER_OHM = 0.3


def _driver(batch: Batch, node: str, name: str, code: Code) -> _Array:
    low, high, opened, dead = batch.once(("driver ends", name), lambda: _pin(batch, node, name))
    if code.kind == "low":
        return low
    if code.kind in ("high", "shorted"):
        return high if code.kind == "high" else np.maximum(high, low * (1.0 - opened))
    if code.kind == "open":
        return np.maximum(opened, dead)
    broken = 1.0 - (1.0 - np.minimum(low + opened, 1.0)) * (1.0 - high) * (1.0 - dead)
    return np.asarray(broken if code.alone else np.maximum(_ONE_OF_TWO * broken, np.maximum(opened, dead)))


def _pin(batch: Batch, node: str, name: str) -> tuple[_Array, _Array, _Array, _Array]:
    """Chances of a driver's pin too low when off, too high when on, hanging free, and of a driver that does nothing."""
    at = supply_of(batch.model.engine).node(node)
    dead = np.broadcast_to(1.0 - np.asarray(driven(batch, at), dtype=np.float64), (batch.rows,))
    feed = feed_of(batch, "idle", node) if is_actuator(at) else None
    whole = feed.volts if feed is not None else solution(batch, "idle").load_volts[node]
    # A driver that is dead stands in the way of the current, not of the test of its pin.
    fed = np.where(dead > 0.5, _BATTERY_V, whole)
    sound = load_ohm(at)
    winding = np.maximum(np.max([batch.column("winding", one) for one in _names(batch, name)], axis=0), 1e-3)
    least = np.maximum(np.min([batch.column("winding", one) for one in _names(batch, name)], axis=0), 1e-3)
    way = np.minimum(_extra_ohm(batch, _path(batch, name)), _OPEN_OHM)
    down, up = _shorts(batch, name)
    low = opened = np.zeros(batch.rows)
    for pull, odds in ((SignalInput(_BIAS_V, _BIAS_OHM), _BIASED), (SignalInput(0.0, _BIAS_OHM), 1.0 - _BIASED)):
        total = down + up
        held = np.divide(_BATTERY_V * up, total, out=np.zeros(batch.rows), where=total > 0.0)
        volts = np.asarray(
            pin_volts(np.maximum(fed, 0.0), sound * winding, pull, wire_ohm=way, shorting=total, short_volts=held)
        )
        under = _PIN_LOW.undercut(volts)
        low, opened = low + odds * under, opened + odds * _PIN_SOUND.undercut(volts) * (1.0 - under)
    over = sound / np.maximum(sound * least + way, 1e-3) + up * np.minimum(sound, _BATTERY_V)
    high = _OVER.crossed(over)
    return low, np.asarray(high), opened, dead


def _fed(batch: Batch, node: str, code: Code) -> _Array:
    """Volts behind a supply."""
    volts = solution(batch, "key_on").volts[node]
    if code.kind == "high":
        return Limits((15.5, 16.0, 16.5), (0.3, 0.4, 0.3), 0.2).crossed(volts)
    return Limits((5.0, 7.0, 9.0), (0.3, 0.4, 0.3), 0.3).undercut(volts)
