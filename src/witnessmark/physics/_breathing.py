"""An engine in n states, laid out for its flows of air and exhaust: what of them follows from pressures at once.

Shapes: (n,) for the engine, (n, banks), (n, cylinders).
"""

from __future__ import annotations

from dataclasses import fields
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from witnessmark.errors import InputError
from witnessmark.physics._pressures import ahead, behind
from witnessmark.physics._turbo import compressing, driving, expansion, warmed
from witnessmark.physics.airpath import VARIES, AirPath
from witnessmark.physics.airstate import PER_BANK, PER_CYLINDER, AirState
from witnessmark.physics.demand import Demand
from witnessmark.physics.exhaust import BackPressure, remaining_area
from witnessmark.physics.nozzle import GAMMA_AIR, GAMMA_EXHAUST, HOLE, R_AIR, R_EXHAUST, signed_flow
from witnessmark.physics.valvetiming import timing_shift

__all__ = ["FUEL_SHARE", "Breathing", "Turning"]

Array = NDArray[np.float64]
Rows = NDArray[np.bool_] | NDArray[np.intp]

FUEL_SHARE = 1.0 / 14.6  # what fuel adds to the exhaust; a few percent either way move nothing here
_EGR_TEMPERATURE = 650.0
_RETURN_TEMPERATURE = 500.0  # of exhaust that comes back into a cool port; our guess


class Turning(NamedTuple):
    """What the cylinders do at a speed, whatever the pressures; (n, banks) but the first."""

    speed: Array  # (n,)
    swept: Array  # gas drawn for each pascal, times its temperature [kg K/(s Pa)]
    intake: Array  # factor of plenum pressure
    exhaust: Array  # factor of exhaust pressure
    overlap: Array  # area between the two while both valves are open, more than at rest [m2]

    def of(self, rows: Rows) -> Turning:
        """The same in some of the states."""
        return Turning(*(one[rows] for one in self))


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
        self.f = self._fixed()
        s = self.s
        self.mixed = bool(np.any(s["inflow_fuel_purge"]) or np.any(s["inflow_fuel_plenum"]))
        self.mixed = self.mixed or bool(np.any(s["inflow_fuel_runner"]))

    def _fixed(self) -> dict[str, Array]:
        """Effective areas of whatever gas passes, and how far each bank fills: what no pressure changes."""
        path, s, d, way = self.path, self.s, self.d, self.path.exhaust
        valve = np.maximum(path.pcv_area + self.hole("area_error_pcv"), 1e-12)
        fed = path.breather_area + self.hole("leak_area_crankcase")
        egr = np.maximum(HOLE * 1e-6 * d["egr_mm2"] + self.hole("area_error_egr"), 0.0)
        free = np.asarray(remaining_area(path.filter_area, s["restriction_air_filter"]))
        duct, pipe = self.hole("leak_area_intake_duct"), self.hole("leak_area_charge_pipe")
        boost = path.boost
        return {
            "tail": np.asarray(remaining_area(way.tail_area, s["restriction_tail"])),
            "catalyst": np.asarray(remaining_area(way.catalyst_area, s["restriction_catalyst"])),
            "front": np.asarray(remaining_area(way.front_area, s["restriction_exhaust_front"])),
            "free": free,
            # Without a compressor all of it is one duct, a little below ambient.
            "inlet": free + duct + (pipe if boost is None else 0.0),
            "pipe": pipe,
            "cooler": np.asarray(remaining_area(boost.cooler_area, s["restriction_charge_cooler"])) if boost else pipe,
            "gate": HOLE * 1e-6 * s["area_error_wastegate"][:, None],
            "purge": np.maximum(HOLE * 1e-6 * d["purge_mm2"] + self.hole("area_error_purge"), 0.0),
            "runner": self.hole("leak_area_runner"),
            "plenum": self.hole("leak_area_plenum"),
            # Two holes in a row pass as much as one of 1/√(1/A² + 1/B²): exact for small drops, the hose's is small.
            "pcv": 1.0 / np.sqrt(1.0 / valve**2 + 1.0 / fed**2),
            "hose": path.breather_area / fed,  # what of it comes by its own hose, behind the air meter
            "egr": egr[:, None] * self.share,
            # Share of the engine's filling that falls to each bank: its cylinders, each as far as it fills.
            "worth": np.broadcast_to(self._worth(), (self.n,)),
            "taken": d["electric_watts"] / path.alternator_efficiency + d["compressor_watts"],
            "drag": s["accessory_drag"] * 4.0 * np.pi / path.displacement,
            "open": np.asarray(s["filling"] @ self.banks / path.n_cylinders),
        }

    def _worth(self) -> Array:
        """Mean pressure, times speed, that each kg/s of air makes: of what burns, as far as its cylinder gives work."""
        path, filled = self.path, self.s["filling"]
        burnt = np.sum(filled * self.s["work"], axis=1) / np.maximum(filled.sum(axis=1), 1e-9)
        return np.asarray(path.work_per_air * self.d["work_share"] * burnt * 120.0 / path.displacement)

    def of(self, rows: Rows) -> Breathing:
        """The same engine in some of its states only."""
        few = object.__new__(Breathing)
        count = int(np.count_nonzero(rows)) if rows.dtype == np.bool_ else len(rows)

        def some(values: dict[str, Array]) -> dict[str, Array]:
            # What is one number for all rows stays so.
            return {name: value[rows] if value.strides[0] else value[:count] for name, value in values.items()}

        few.path, few.share, few.n, few.banks, few.mixed = self.path.of(rows), self.share, count, self.banks, self.mixed
        few.s, few.d, few.f = some(self.s), some(self.d), some(self.f)
        return few

    def hole(self, name: str) -> Array:
        """Effective area of a leak or an error of the state."""
        return HOLE * 1e-6 * self.s[name]

    def plenum_temperature(self, plenum: Array) -> tuple[Array, Array]:
        """Of the gas ahead of the throttle and in the plenum."""
        outside, boost = self.d["ambient_temperature"], self.path.boost
        if boost is not None:
            ratio = np.maximum(plenum / self.d["ambient_pressure"], 1.0)
            outside = np.asarray(warmed(boost.compressor_efficiency, boost.cooling, ratio, outside))
        return outside, outside + self.path.charge_warming

    def turning(self, speed: Array) -> Turning:
        """What the cylinders do at a speed.

        [p_i (V₂ - V₁ (γ-1)/γ) - p_e V₁/γ]/(R T): energy of a cylinder that starts from V₁ of exhaust and shuts at V₂.
        At rest V₁ is the clearance and V₂ all of it, which is ``filling.filling_factor``.
        """
        path, s, d = self.path, self.s, self.d
        off = (speed - path.filling_speed_rpm) / path.filling_width_rpm
        efficiency = path.filling * np.maximum(1.0 - 0.1 * off**2, 0.3)
        swept = (efficiency * (path.displacement * speed / 120.0) / R_AIR)[:, None] * self.f["open"]
        intake = s["intake_early"] + d["intake_early"][:, None]
        exhaust = s["exhaust_early"] + d["exhaust_early"][:, None]
        clearance = 1.0 / (path.compression_ratio - 1.0)
        shift = timing_shift(path.timing, speed[:, None], intake_early=intake, exhaust_early=exhaust)
        after, before = 1.0 + clearance + shift.trapped, clearance + shift.residual
        area = np.asarray(shift.overlap * path.n_cylinders * self.f["open"])
        drawn = np.asarray(after - before * (GAMMA_AIR - 1.0) / GAMMA_AIR)
        return Turning(speed, swept, drawn, np.asarray(before / GAMMA_AIR), area)

    def mean_port(self, levels: BackPressure) -> Array:
        """Back pressure, as a mean over the cylinders."""
        port: Array = np.sum(np.asarray(levels.port) * self.share, axis=1)
        return port

    def drawn_in(self, plenum: Array, t: Array) -> tuple[Array, Array, Array, Array]:
        """Flow through purge valve, each runner's leak, the plenum's leak and the crankcase: one flux, their areas."""
        p0, t0 = self.d["ambient_pressure"], self.d["ambient_temperature"]
        flux = np.asarray(signed_flow(1.0, p0, plenum, t0, t))
        inward = np.maximum(flux, 0.0)
        f = self.f
        return f["purge"] * inward, f["runner"] * flux[:, None], f["plenum"] * flux, f["pcv"] * inward

    def vapours(self, purge: Array, runner: Array, leak: Array) -> tuple[Array, Array]:
        """Fuel that comes with what is drawn in: of the whole plenum, and by runner."""
        s = self.s
        if not self.mixed:
            return np.zeros_like(purge), np.zeros_like(runner)
        vapour = s["inflow_fuel_purge"] * purge + s["inflow_fuel_plenum"] * np.maximum(leak, 0.0)
        return vapour, s["inflow_fuel_runner"] * np.maximum(runner, 0.0)

    def behind_filter(self, passed: Array) -> Array:
        """Pressure behind air filter and duct."""
        p0, t0 = self.d["ambient_pressure"], self.d["ambient_temperature"]
        return np.asarray(behind(passed, self.f["inlet"], p0, t0, GAMMA_AIR, R_AIR))

    def turbo_power(self, levels: BackPressure, leaving: Array) -> Array:
        """Power that reaches the air, of all banks together."""
        boost = self.path.boost
        assert boost is not None
        p4 = np.asarray(self.chain_pressure(leaving).port)
        ratio = np.clip(p4 / np.asarray(levels.port), 1e-6, 1.0)
        ideal = driving(ratio, boost.turbine_area, p4, self.path.exhaust.temperature)
        power: Array = np.sum(np.asarray(ideal) * self.share, axis=1) * boost.efficiency * self.s["turbo_efficiency"]
        return power

    def recirculated(self, port: Array, plenum: Array, warm: Array) -> Array:
        """Exhaust that the plenum draws from each bank."""
        drawn = _nozzles(self.f["egr"], port, plenum[:, None], _EGR_TEMPERATURE, warm[:, None])
        return np.asarray(np.maximum(drawn, 0.0))

    def displaced(self, overlap: Array, port: Array, inside: Array, warm: Array) -> tuple[Array, Array]:
        """Exhaust that comes back while both valves are open, and the fresh gas whose room it takes."""
        back = _nozzles(overlap, port, inside, _RETURN_TEMPERATURE, warm)
        return back, back * np.where(port > inside, _RETURN_TEMPERATURE / warm, 1.0)

    def chain_pressure(self, leaving: Array) -> BackPressure:
        """Back pressure of the exhaust alone, without a turbine, of the flow that leaves each bank."""
        # As exhaust.back_pressure, with nothing checked and the areas worked out once: this is called many times.
        hot, pressure, f = self.path.exhaust.temperature, self.d["ambient_pressure"][:, None], self.f
        rear = ahead(leaving, f["tail"], pressure, hot, GAMMA_EXHAUST, R_EXHAUST)
        front = ahead(leaving, f["catalyst"], rear, hot, GAMMA_EXHAUST, R_EXHAUST)
        return BackPressure(ahead(leaving, f["front"], front, hot, GAMMA_EXHAUST, R_EXHAUST), front, rear)

    def exhaust_levels(self, leaving: Array, t_ahead: Array) -> BackPressure:
        """Pressures along the exhaust, the turbine's included."""
        levels, boost = self.chain_pressure(leaving), self.path.boost
        if boost is None:
            return levels
        ratio = expansion(
            (boost.turbine_area, boost.wastegate_area),
            leaving / self.share,
            levels.port,
            self.path.exhaust.temperature,
            self._power_wanted(leaving, t_ahead),
            self.f["gate"],
        )
        return BackPressure(levels.port / ratio, levels.front_sensor, levels.rear_sensor)

    def _power_wanted(self, leaving: Array, t_ahead: Array) -> Array:
        """Power of an ideal turbine that would bring the charge to its target; each bank as if all were like it."""
        boost = self.path.boost
        if boost is None or not np.any(self.d["boost_wanted"] > 0.0):
            return np.zeros_like(leaving)
        p0, t0, f = self.d["ambient_pressure"][:, None], self.d["ambient_temperature"][:, None], self.f
        wanted, warm = p0 + self.d["boost_wanted"][:, None], t_ahead[:, None]
        lost = np.maximum(signed_flow(f["pipe"][:, None], wanted, p0, warm, t0), 0.0)
        passed = np.maximum(leaving / (1.0 + FUEL_SHARE) / self.share + lost, 1e-6)
        charge = ahead(passed, f["cooler"][:, None], wanted, warm, GAMMA_AIR, R_AIR)
        ratio = charge / behind(passed, f["inlet"][:, None], p0, t0, GAMMA_AIR, R_AIR)
        made = boost.efficiency * np.maximum(self.s["turbo_efficiency"][:, None], 1e-3)
        power: Array = np.where(self.d["boost_wanted"][:, None] > 0.0, compressing(passed, ratio, t0) / made, 0.0)
        return power

    def through(
        self, turning: Turning, plenum: Array, leaving: Array, warm: Array, t_ahead: Array
    ) -> tuple[Array, Array, BackPressure, Array]:
        """Gas that each bank draws if so much leaves it, what of it is recirculated exhaust, back pressures, and what
        comes back through the overlap; (n, banks) each.

        ṁ = k (a p_i - b p_e) - what exhaust displaces that comes back while both valves are open.
        """
        levels = self.exhaust_levels(leaving, t_ahead)
        port, inside = np.asarray(levels.port), plenum[:, None]
        k = turning.swept / warm[:, None]
        drawn = k * (turning.intake * inside - turning.exhaust * port)
        back, displaced = self.displaced(turning.overlap, port, inside, warm[:, None])
        drawn = drawn - displaced
        return np.maximum(drawn, 0.0), self.recirculated(port, plenum, warm), levels, back


def _nozzles(area: Array, port: Array, inside: Array, hot: float, cool: Array) -> Array:
    """Exhaust of one temperature through areas into the plenum; most areas are none."""
    area, port, inside, cool = np.broadcast_arrays(area, port, inside, cool)
    there = area != 0.0
    if not np.any(there):
        return np.zeros(area.shape)
    if 2 * np.count_nonzero(there) > area.size:
        return np.asarray(signed_flow(area, port, inside, hot, cool, GAMMA_EXHAUST, R_EXHAUST))
    flow = np.zeros(area.shape)
    flow[there] = signed_flow(area[there], port[there], inside[there], hot, cool[there], GAMMA_EXHAUST, R_EXHAUST)
    return flow


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
