"""One vehicle's air and fuel as its computer has to do with them: sizes by its seed, state by the state's edits."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.state import State
from witnessmark.engine.types import Engine
from witnessmark.physics.airpath import AirPath
from witnessmark.physics.airstate import AirState
from witnessmark.physics.boost import Boost
from witnessmark.physics.exhaust import Exhaust
from witnessmark.simulate.draws import stream
from witnessmark.simulate.parts import PLENUM_DUCTS, banks_of, edit_of, place

__all__ = ["air_path_of", "air_state_of"]

FloatArray = NDArray[np.float64]

_USUAL = AirPath()


def air_path_of(engine: Engine, swept_m3: float, compression_ratio: float, seed: int) -> AirPath:
    """Air and fuel of a sound vehicle.

    Parameters
    ----------
    engine : Engine
    swept_m3 : float [m3]
        Of all cylinders.
    compression_ratio : float [-]
    seed : int
        Of the vehicle.

    Returns
    -------
    AirPath
    """
    rng = stream(seed, "airway")
    size, each = swept_m3 / _USUAL.displacement, swept_m3 / engine.cylinders
    banks, said = banks_of(engine), engine.breathing.air
    share = 1.0 / len(set(banks.values()))
    vary = rng.uniform(0.9, 1.1, 7)
    sound = Exhaust()
    boosted = said.boost in ("turbo", "mechanical")
    return AirPath(
        displacement=swept_m3,
        bank_of=tuple(banks[n] - 1 for n in range(1, engine.cylinders + 1)),
        compression_ratio=compression_ratio,
        filling=_USUAL.filling * float(rng.uniform(0.94, 1.04)),
        metering="speed_density" if said.metering == "speed_density" else "air_meter",
        filter_area=_USUAL.filter_area * size * float(vary[0]),
        wide_open_area=_USUAL.wide_open_area * size * float(vary[1]),
        idle_area=_USUAL.idle_area * size * float(vary[2]),
        exhaust=Exhaust(
            sound.front_area * size * share * float(vary[3]), sound.catalyst_area * size * share * float(vary[4]),
            sound.tail_area * size * share * float(vary[5]),
        ),
        boost=Boost() if boosted else None,
        injector_flow=_USUAL.injector_flow * each / 0.5e-3 * (1.7 if boosted else 1.0),
        friction=_USUAL.friction * float(vary[6]),
    )  # fmt: skip


def air_state_of(engine: Engine, state: State) -> AirState:
    """What of a state acts on air and fuel.

    Parameters
    ----------
    engine : Engine
    state : State
        One row.

    Returns
    -------
    AirState
    """
    numbers = range(1, engine.cylinders + 1)
    banks = sorted(set(banks_of(engine).values()))

    def of(variable: str, where: str) -> float:
        return edit_of(state, variable, where)

    def never_less(variable: str, where: str) -> float:
        return max(of(variable, where), 0.0)

    def by_bank(variable: str, kind: str, *, least: float = 0.0) -> FloatArray:
        return np.array([max(of(variable, place(kind, bank)), least) for bank in banks])

    def by_cylinder(variable: str, kind: str) -> FloatArray:
        return np.array([never_less(variable, place(kind, n)) for n in numbers])

    def edited(variable: str, where: str) -> float:
        """Fuel comes through a leak only where somebody holds some there."""
        return of(variable, where) if (variable, where) in state.edits else 0.0

    return AirState(
        leak_area_intake_duct=never_less("leak_area", "intake_duct"),
        leak_area_charge_pipe=never_less("leak_area", "charge_pipe"),
        leak_area_plenum=sum(never_less("leak_area", duct) for duct in PLENUM_DUCTS),
        leak_area_crankcase=never_less("leak_area", "crankcase"),
        leak_area_runner=by_cylinder("leak_area", "runner"),
        leak_area_exhaust_front=by_bank("leak_area", "exhaust_front"),
        restriction_air_filter=never_less("restriction", "air_filter"),
        restriction_charge_cooler=never_less("restriction", "charge_cooler"),
        restriction_fuel_filter=never_less("restriction", "fuel_filter"),
        restriction_exhaust_front=by_bank("restriction", "exhaust_front"),
        restriction_catalyst=by_bank("restriction", "catalyst"),
        restriction_tail=never_less("restriction", "tail"),
        area_error_throttle=of("area_error", "throttle"),
        area_error_purge=of("area_error", "purge"),
        area_error_pcv=of("area_error", "pcv"),
        area_error_egr=of("area_error", "egr"),
        area_error_wastegate=of("area_error", "wastegate"),
        inflow_fuel_purge=np.clip(of("inflow_fuel", "purge"), 0.0, 1.0),
        inflow_fuel_plenum=np.clip(edited("inflow_fuel", "plenum"), 0.0, 1.0),
        inflow_fuel_runner=np.clip([edited("inflow_fuel", place("runner", n)) for n in numbers], 0.0, 1.0),
        turbo_efficiency=of("turbo_efficiency", "engine"),
        sensor_gain_maf=of("sensor_gain", "maf"),
        sensor_gain_map=of("sensor_gain", "map"),
        sensor_offset_maf=of("sensor_offset", "maf"),
        sensor_offset_map=of("sensor_offset", "map"),
        sensor_offset_iat=of("sensor_offset", "iat"),
        sensor_offset_o2_front=by_bank("sensor_offset", "o2_front", least=-1e9),
        injector_flow=by_cylinder("injector_flow", "cylinder"),
        injector_leak=by_cylinder("injector_leak", "cylinder"),
        lift_pump_flow=never_less("lift_pump_flow", "pump"),
        regulator_error=of("regulator_error", "regulator"),
        fuel_ethanol=np.clip(of("fuel_ethanol", "fuel"), 0.0, 1.0),
        accessory_drag=never_less("accessory_drag", "engine"),
    )
