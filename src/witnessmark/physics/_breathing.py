"""All flows of air and exhaust of an engine at a plenum pressure and a speed: what ``operating`` brings to balance.

Shapes: (n,) for the engine, (n, banks), (n, cylinders).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from witnessmark.errors import InputError
from witnessmark.physics._pressures import ahead, behind
from witnessmark.physics._root import falling_root
from witnessmark.physics.airpath import VARIES, AirPath
from witnessmark.physics.airstate import PER_BANK, PER_CYLINDER, AirState
from witnessmark.physics.boost import (
    Boost,
    charge_temperature,
    compressor_power,
    compressor_ratio,
    turbine_power,
    turbine_ratio,
)
from witnessmark.physics.demand import Demand
from witnessmark.physics.exhaust import BackPressure, remaining_area
from witnessmark.physics.filling import swept_flow_rate
from witnessmark.physics.nozzle import GAMMA_AIR, GAMMA_EXHAUST, HOLE, R_AIR, R_EXHAUST, signed_flow
from witnessmark.physics.valvetiming import timing_shift

__all__ = ["Breathing", "Flows", "cylinder_flow"]

Array = NDArray[np.float64]

_FUEL_SHARE = 1.0 / 14.6  # what fuel adds to the exhaust; a few percent either way move nothing here
_EGR_TEMPERATURE = 650.0
_RETURN_TEMPERATURE = 500.0  # of exhaust that comes back into a cool port; our guess
_SECANTS, _AGREES = 12, 1e-12  # steps at most, and what is left over in the end, of what could leave


@dataclass(frozen=True, slots=True)
class Flows:
    """Flows in kg/s, pressures in Pa; of the whole engine (n,) unless said otherwise."""

    plenum: Array
    cylinders: Array  # (n, banks), all gas
    levels: BackPressure  # (n, banks)
    port: Array  # mean over the cylinders
    egr: Array
    returned: Array  # exhaust that comes back while both valves are open, more than at rest
    purge: Array
    runner: Array  # (n, cylinders)
    at_plenum: Array  # air that leaks in there
    pcv: Array
    throttle: Array  # what the throttle would have to pass
    charge: Array  # behind the compressor, ahead of the cooler
    upstream: Array  # ahead of the throttle
    charge_leak: Array
    metered: Array
    vapour: Array  # fuel that came with purge and plenum leak
    runner_vapour: Array  # (n, cylinders), fuel that came with runner leaks
    air: Array  # all that can burn it
    warm: Array  # temperature in the plenum
    ahead_temperature: Array


class Breathing:
    """An engine in n states, laid out as arrays."""

    def __init__(self, path: AirPath, state: AirState, demand: Demand) -> None:
        n = _sized(path, state, demand)
        width = {**dict.fromkeys(PER_BANK, path.n_banks), **dict.fromkeys(PER_CYLINDER, path.n_cylinders)}
        self.path, self.n = path, n
        self.s = {f.name: _laid(getattr(state, f.name), n, width.get(f.name)) for f in fields(state)}
        self.d = {f.name: _laid(getattr(demand, f.name), n) for f in fields(demand)}
        counts = np.bincount(np.array(path.bank_of), minlength=path.n_banks)
        self.share: Array = counts / path.n_cylinders
        self.banks: Array = np.eye(path.n_banks)[list(path.bank_of)]
        way = path.exhaust
        self.exhaust: tuple[Array, Array, Array] = (
            np.asarray(remaining_area(way.tail_area, self.s["restriction_tail"])),
            np.asarray(remaining_area(way.catalyst_area, self.s["restriction_catalyst"])),
            np.asarray(remaining_area(way.front_area, self.s["restriction_exhaust_front"])),
        )

    def of(self, rows: NDArray[np.bool_]) -> Breathing:
        """The same engine in some of its states only."""
        few = object.__new__(Breathing)
        few.path, few.share, few.n = self.path.of(rows), self.share, int(np.count_nonzero(rows))
        few.banks = self.banks
        tail, catalyst, front = self.exhaust
        few.exhaust = tail[rows], catalyst[rows], front[rows]
        few.s = {name: value[rows] for name, value in self.s.items()}
        few.d = {name: value[rows] for name, value in self.d.items()}
        return few

    def hole(self, name: str) -> Array:
        """Effective area of a leak or an error of the state."""
        return HOLE * 1e-6 * self.s[name]

    def plenum_temperature(self, plenum: Array) -> tuple[Array, Array]:
        """Of the gas ahead of the throttle and in the plenum."""
        outside = self.d["ambient_temperature"]
        if self.path.boost is not None:
            ratio = np.maximum(plenum / self.d["ambient_pressure"], 1.0)
            outside = np.asarray(charge_temperature(self.path.boost, ratio, outside))
        return outside, outside + self.path.charge_warming

    def flows(self, plenum: Array, speed: Array) -> Flows:
        """Everything that flows at a plenum pressure and a speed."""
        s, p0, t0 = self.s, self.d["ambient_pressure"], self.d["ambient_temperature"]
        t_ahead, t = self.plenum_temperature(plenum)
        gas, egr, leaving, levels, returned = cylinder_flow(self, plenum, speed, t)
        port = np.sum(np.asarray(levels.port) * self.share, axis=1)

        def drawn(area: Array) -> Array:
            return np.asarray(signed_flow(area, p0, plenum, t0, t))

        purge_area = np.maximum(HOLE * 1e-6 * self.d["purge_mm2"] + self.hole("area_error_purge"), 0.0)
        purge = np.maximum(drawn(purge_area), 0.0)
        holes = self.hole("leak_area_runner")
        runner = np.asarray(signed_flow(holes, p0[:, None], plenum[:, None], t0[:, None], t[:, None]))
        leak = drawn(self.hole("leak_area_plenum"))
        pcv, own = self._ventilation(drawn)
        vapour = s["inflow_fuel_purge"] * purge + s["inflow_fuel_plenum"] * np.maximum(leak, 0.0)
        runner_vapour = s["inflow_fuel_runner"] * np.maximum(runner, 0.0)
        whole = gas.sum(axis=1)
        throttle = whole - egr - purge - runner.sum(axis=1) - leak - pcv
        charge, upstream, lost, metered = self._upstream(throttle, pcv * own, levels, leaving, t_ahead)
        return Flows(
            plenum=plenum,
            cylinders=gas,
            levels=levels,
            port=port,
            egr=egr,
            returned=returned,
            purge=purge,
            runner=runner,
            at_plenum=leak,
            pcv=pcv,
            throttle=throttle,
            charge=charge,
            upstream=upstream,
            charge_leak=lost,
            metered=metered,
            vapour=vapour,
            runner_vapour=runner_vapour,
            air=whole - egr - vapour - runner_vapour.sum(axis=1),
            warm=t,
            ahead_temperature=t_ahead,
        )

    def _ventilation(self, drawn: Callable[[Array], Array]) -> tuple[Array, Array]:
        """Flow through the crankcase and how much of it came by its own hose, behind the air meter."""
        valve = np.maximum(self.path.pcv_area + self.hole("area_error_pcv"), 1e-12)
        fed = self.path.breather_area + self.hole("leak_area_crankcase")
        # Two holes in a row pass as much as one of 1/√(1/A² + 1/B²): exact for small drops, the hose's is small.
        flow = np.maximum(drawn(1.0 / np.sqrt(1.0 / valve**2 + 1.0 / fed**2)), 0.0)
        return flow, self.path.breather_area / fed

    def _upstream(
        self, throttle: Array, ventilation: Array, levels: BackPressure, leaving: Array, t_ahead: Array
    ) -> tuple[Array, Array, Array, Array]:
        """Pressures behind compressor and cooler, what the charge pipe loses, what the meter passes."""
        p0, t0, boost = self.d["ambient_pressure"], self.d["ambient_temperature"], self.path.boost
        free = np.asarray(remaining_area(self.path.filter_area, self.s["restriction_air_filter"]))
        duct, pipe = self.hole("leak_area_intake_duct"), self.hole("leak_area_charge_pipe")
        if boost is None:
            duct = duct + pipe  # without a compressor all of it is one duct, a little below ambient
            wanted = throttle + ventilation
            level = np.asarray(behind(np.maximum(wanted, 0.0), free + duct, p0, t0, GAMMA_AIR, R_AIR))
            return level, level, np.zeros(self.n), wanted * free / (free + duct)
        power = self.turbo_power(levels, leaving)
        cooler = np.asarray(remaining_area(boost.cooler_area, self.s["restriction_charge_cooler"]))

        def chain(pressure: Array) -> tuple[Array, Array, Array]:
            lost = np.asarray(signed_flow(pipe, pressure, p0, t_ahead, t0))
            passed = np.maximum(throttle + ventilation + lost, 1e-6)
            ahead_of_it = behind(passed, free + duct, p0, t0, GAMMA_AIR, R_AIR)
            charge = np.asarray(ahead_of_it * compressor_ratio(power, passed, t0))
            return charge, lost, np.asarray(behind(passed, cooler, charge, t_ahead, GAMMA_AIR, R_AIR))

        upstream = np.asarray(falling_root(lambda p: chain(np.asarray(p))[2] - p, 0.02 * p0, 5.0 * p0))
        charge, lost, _ = chain(upstream)
        return charge, upstream, lost, (throttle + ventilation + lost) * free / (free + duct)

    def turbo_power(self, levels: BackPressure, leaving: Array) -> Array:
        """Power that reaches the air, of all banks together."""
        boost = self.path.boost
        assert boost is not None
        p4 = np.asarray(self.chain_pressure(leaving).port)
        ideal = turbine_power(
            np.clip(p4 / np.asarray(levels.port), 1e-6, 1.0),
            boost.turbine_area,
            p4,
            self.path.exhaust.temperature,
        )
        power: Array = np.sum(np.asarray(ideal) * self.share, axis=1) * boost.efficiency * self.s["turbo_efficiency"]
        return power

    def recirculated(self, port: Array, plenum: Array, warm: Array) -> Array:
        """Exhaust that the plenum draws from each bank."""
        whole = HOLE * 1e-6 * self.d["egr_mm2"] + self.hole("area_error_egr")
        area = np.maximum(whole, 0.0)[:, None] * self.share
        if not np.any(area):
            return np.zeros_like(area)
        flow = signed_flow(area, port, plenum[:, None], _EGR_TEMPERATURE, warm[:, None], GAMMA_EXHAUST, R_EXHAUST)
        drawn: Array = np.maximum(flow, 0.0)
        return drawn

    def chain_pressure(self, leaving: Array) -> BackPressure:
        """Back pressure of the exhaust alone, without a turbine, of the flow that leaves each bank."""
        # As exhaust.back_pressure, with nothing checked and the areas worked out once: this is called a thousand times.
        hot, pressure = self.path.exhaust.temperature, self.d["ambient_pressure"][:, None]
        rear = ahead(leaving, self.exhaust[0], pressure, hot, GAMMA_EXHAUST, R_EXHAUST)
        front = ahead(leaving, self.exhaust[1], rear, hot, GAMMA_EXHAUST, R_EXHAUST)
        return BackPressure(ahead(leaving, self.exhaust[2], front, hot, GAMMA_EXHAUST, R_EXHAUST), front, rear)

    def exhaust_levels(self, leaving: Array, t_ahead: Array) -> BackPressure:
        """Pressures along the exhaust, the turbine's included."""
        levels, boost = self.chain_pressure(leaving), self.path.boost
        if boost is None:
            return levels
        expansion = turbine_ratio(
            boost,
            leaving / self.share,
            levels.port,
            self.path.exhaust.temperature,
            power=self._power_wanted(boost, leaving, t_ahead),
            wastegate_error_mm2=HOLE * self.s["area_error_wastegate"][:, None],
        )
        return BackPressure(levels.port / expansion, levels.front_sensor, levels.rear_sensor)

    def _power_wanted(self, boost: Boost, leaving: Array, t_ahead: Array) -> Array:
        """Power of an ideal turbine that would bring the charge to its target; each bank as if all were like it."""
        if not np.any(self.d["boost_wanted"] > 0.0):
            return np.zeros_like(leaving)
        p0, t0 = self.d["ambient_pressure"][:, None], self.d["ambient_temperature"][:, None]
        wanted, warm = p0 + self.d["boost_wanted"][:, None], t_ahead[:, None]
        lost = np.maximum(signed_flow(self.hole("leak_area_charge_pipe")[:, None], wanted, p0, warm, t0), 0.0)
        passed = np.maximum(leaving / (1.0 + _FUEL_SHARE) / self.share + lost, 1e-6)
        free = np.asarray(remaining_area(self.path.filter_area, self.s["restriction_air_filter"]))[:, None]
        cooler = np.asarray(remaining_area(boost.cooler_area, self.s["restriction_charge_cooler"]))[:, None]
        charge = ahead(passed, cooler, wanted, warm, GAMMA_AIR, R_AIR)
        duct = self.hole("leak_area_intake_duct")[:, None]
        ratio = charge / behind(passed, free + duct, p0, t0, GAMMA_AIR, R_AIR)
        made = boost.efficiency * np.maximum(self.s["turbo_efficiency"][:, None], 1e-3)
        power: Array = np.where(self.d["boost_wanted"][:, None] > 0.0, compressor_power(passed, ratio, t0) / made, 0.0)
        return power


def cylinder_flow(
    breath: Breathing, plenum: Array, speed: Array, warm: Array
) -> tuple[Array, Array, Array, BackPressure, Array]:
    """Gas that each bank draws, what of it is recirculated exhaust (n,), what leaves each bank, its back pressure, and
    exhaust that comes back through the overlap (n,), more than at rest.

    ṁ = k (a p_i - b p_e) - what exhaust displaces that comes back while both valves are open: the more leaves, the
    higher p_e, the less is drawn and the more recirculates; so what leaves has one value that agrees with itself.
    """
    path = breath.path
    off = (speed - path.filling_speed_rpm) / path.filling_width_rpm
    efficiency = path.filling * np.maximum(1.0 - 0.1 * off**2, 0.3)
    k = (efficiency * swept_flow_rate(path.displacement, speed) / (R_AIR * warm))[:, None] * _open(breath)
    a, b, overlap = _timed(breath, speed)
    inside, hot = plenum[:, None], _RETURN_TEMPERATURE
    most = k * a * inside
    t_ahead = warm - path.charge_warming

    def returning(port: Array) -> Array:
        flow = overlap * np.asarray(signed_flow(1.0, port, inside, hot, warm[:, None], GAMMA_EXHAUST, R_EXHAUST))
        return np.asarray(flow)

    def through(leaving: Array) -> tuple[Array, Array, BackPressure, Array]:
        levels = breath.exhaust_levels(leaving, t_ahead)
        port = np.asarray(levels.port)
        back = returning(port)
        displaced = back * np.where(port > inside, hot / warm[:, None], 1.0)
        drawn = np.maximum(most - k * b * port - displaced, 0.0)
        return drawn, breath.recirculated(port, plenum, warm), levels, back

    last: list[tuple[Array, tuple[Array, Array, BackPressure, Array]]] = []

    def surplus(leaving: Array) -> Array:
        last[:] = [(leaving, through(leaving))]
        gas, egr, _, _ = last[0][1]
        return (1.0 + _FUEL_SHARE) * (gas - egr) - leaving

    leaving = _agreed(surplus, (1.0 + _FUEL_SHARE) * most)
    # What agreed was looked at last, but where rows had to be bracketed.
    gas, egr, levels, back = last[0][1] if last[0][0] is leaving else through(leaving)
    return gas, egr.sum(axis=1), leaving, levels, back.sum(axis=1)


def _agreed(surplus: Callable[[Array], Array], most: Array) -> Array:
    """What leaves, where nothing is left over: by secants from what would leave against no exhaust at all, each row on
    its own; rows that do not get there are bracketed.
    """
    last, over = most, surplus(most)
    now = most + over
    found = np.maximum(now, 0.0)
    last_over = over
    for _ in range(_SECANTS):
        over = surplus(found)
        near = np.abs(over) <= _AGREES * most + 1e-18
        if np.all(near):
            return found
        slope = (over - last_over) / np.where(found == last, 1.0, found - last)
        step = np.where(slope < -0.5, -over / np.minimum(slope, -0.5), over)
        last, last_over = np.where(near, last, found), np.where(near, last_over, over)
        found = np.where(near, found, np.maximum(found + step, 0.0))
    stuck = np.abs(surplus(found)) > _AGREES * most + 1e-18
    slow = np.asarray(falling_root(lambda x: surplus(np.asarray(x)), 0.0 * most, 2.0 * most))
    return np.where(stuck, slow, found)


def _open(breath: Breathing) -> Array:
    """Share of the engine's filling that falls to each bank: its cylinders, each as far as it fills."""
    share: Array = breath.s["filling"] @ breath.banks / breath.path.n_cylinders
    return share


def _timed(breath: Breathing, speed: Array) -> tuple[Array, Array, Array]:
    """Factors of plenum and exhaust pressure, and the area between the two while both valves are open, by bank.

    [p_i (V₂ - V₁ (γ-1)/γ) - p_e V₁/γ]/(R T): energy of a cylinder that starts from V₁ of exhaust and shuts at V₂. At
    rest V₁ is the clearance and V₂ all of it, which is ``filling.filling_factor``.
    """
    path, s, d = breath.path, breath.s, breath.d
    intake = s["intake_early"] + d["intake_early"][:, None]
    exhaust = s["exhaust_early"] + d["exhaust_early"][:, None]
    clearance = 1.0 / (path.compression_ratio - 1.0)
    shift = timing_shift(path.timing, speed[:, None], intake_early=intake, exhaust_early=exhaust)
    after, before = 1.0 + clearance + shift.trapped, clearance + shift.residual
    a = after - before * (GAMMA_AIR - 1.0) / GAMMA_AIR
    area: Array = shift.overlap * path.n_cylinders * _open(breath)
    return np.asarray(a), np.asarray(before / GAMMA_AIR), area


def _laid(value: object, n: int, width: int | None = None) -> Array:
    array = np.asarray(value, dtype=np.float64)
    return np.broadcast_to(array, (n,) if width is None else (n, width))


def _sized(path: AirPath, state: AirState, demand: Demand) -> int:
    """How many states are looked at together, once every field is found to fit."""
    n, named = 1, "one number"
    for owner in (state, demand, path):
        for one in fields(owner):
            if owner is path and one.name not in VARIES:
                continue
            value = np.asarray(getattr(owner, one.name))
            columns = {**dict.fromkeys(PER_BANK, path.n_banks), **dict.fromkeys(PER_CYLINDER, path.n_cylinders)}
            wide = columns.get(one.name) if owner is state else None
            words = one.name.replace("_", " ")
            if wide and value.ndim and value.shape[-1] not in (1, wide):
                raise InputError(f"shape {value.shape}", expected=f"{wide} in the last place", where=words)
            rows = value.shape[0] if value.ndim == (2 if wide else 1) else 1
            if value.ndim > (2 if wide else 1) or (rows != n and 1 not in (rows, n)):
                raise InputError(f"shape {value.shape}", expected=f"as many states as {named}", where=words)
            if rows > n:
                n, named = rows, words
    return n
