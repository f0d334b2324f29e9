"""Codes whose chance does not follow from the state of an engine, each family with the reason."""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.catalogue.codes import Code

__all__ = ["UNPREDICTED", "UNPREDICTED_KINDS", "UNPREDICTED_LETTERS", "why_no_chance"]

_NO_PART = "no engine here is described with this part, and no state variable sits on it"
_NO_FLOW = "the monitor opens a valve by itself and looks at what follows: no quantity of the list holds that"
_NO_TANK = "the tank's pipes and their pressure are no part of the state"
_CONSEQUENCE = "says what the computer did about another fault, which has its own code"
_IN_MEMORY = "what goes on in a module's memory and processor is no part of the state"
_NOT_THROTTLE = "where the throttle stands against what is asked is no quantity of the list"
_PLAUSIBLE = "how its signal is checked is the maker's own, and no quantity of the list holds what it shows"

UNPREDICTED: Mapping[str, str] = {
    "crank_b": _NO_PART,
    "fine_signal": _NO_PART,
    "valve_solenoid": "which solenoids these are is the maker's choice; oil valves of phasers have codes of their own",
    "iat_2": _NO_PART,
    "ambient_sensor": _NO_PART,
    "baro_sensor": _NO_PART,
    "track_stop": _PLAUSIBLE,
    "throttle_motor": "the motor's wires are no part of the supply graph",
    "throttle_position": _NOT_THROTTLE,
    "throttle_action": _CONSEQUENCE,
    "bypass_valve": _NO_PART,
    "idle_valve": "idle air comes through the throttle on every engine here",
    "cold_start": "no quantity of the list holds spark, evenness or exhaust heat in the minute after a cold start",
    "egr": _NO_FLOW,
    "egr_sensor": _NO_PART,
    "egr_throttle": _NO_PART,
    "runner_control": _NO_PART,
    "runner_circuits": _NO_PART,
    "tuning_valve": _NO_PART,
    "runner_sensor": _NO_PART,
    "tuning_sensor": _NO_PART,
    "fuel_leak": "fuel that leaks out of the rail, and a relief valve, are no part of the state",
    "low_side_sensor": _NO_PART,
    "fuel_shutoff": _NO_PART,
    "regulator_2": _NO_PART,
    "pump_b": _NO_PART,
    "fuel_temperature": _NO_PART,
    "fuel_kind": "no engine here has a sensor of the fuel, and its temperature is no part of the state",
    "tank_vapour": _NO_TANK,
    "vent_valve": _NO_PART,
    "tank_sensor": _NO_TANK,
    "purge_sensor": _NO_PART,
    "knock_control": _IN_MEMORY,
    "o2_crossed": "a short between a sensor's signal and its own heater is not told from one to the supply",
    "o2_sample": "whether a sensor sits in the gas, and what it shows without fuel, is no part of the state",
    "catalyst_sensor": _NO_PART,
    "secondary_air": _NO_PART,
    "exhaust_pressure": _NO_PART,
    "coolant_sensor_2": _NO_PART,
    "coolant_pump": _NO_PART,
    "fan": _NO_PART,
    "oil_sensor": "no engine here is described with an electrical sensor of its oil pressure",
    "oil_temperature": _NO_PART,
    "alternator_control": "the field's own wires are no part of the supply graph",
    "actuator_supply": "which actuators hang on it is the maker's choice",
    "power_relay": "the relay's coil is no part of the supply graph; its sense codes tell what is missing behind it",
    "ecu_supply": "a computer that lacks its supply sets no code; what it takes as implausible is the maker's own",
    "module_inside": _IN_MEMORY,
    "start_request": "no switch and no coil of the starter's relay is part of the supply graph",
    "battery_temperature": _NO_PART,
    "vehicle_speed": _NO_PART,
    "overspeed": "how fast an engine was turned is the driver's doing, no part of the state",
    "shut_off": _NO_PART,
}
"""What a code is about, and why nothing of it is predicted."""

UNPREDICTED_KINDS: Mapping[tuple[str, str], str] = {
    ("valve_lift", "low"): "which valves switch the lift is not described on any engine",
    ("valve_lift", "high"): "which valves switch the lift is not described on any engine",
    ("baro_sensor", "too_low"): "the weather is a condition of the test, not a result of the engine's state",
    ("boost", "bypass"): _NO_PART,
    ("boost", "overspeed"): "how fast a turbine turns is no quantity of the list",
    ("low_side", "flow_b"): _NO_PART,
    ("injector_ends", "balance"): "how a maker measures a cylinder's share, and in what, is its own",
    ("injectors", "cold_circuit"): _NO_PART,
    ("injectors", "performance"): _NO_PART,
    ("injectors", "low"): _NO_PART,
    ("injectors", "high"): _NO_PART,
    ("misfire_kind", "low_fuel"): "how full the tank is, is no part of the state",
    ("misfire_kind", "fuel_cut"): _CONSEQUENCE,
    ("misfire_kind", "rough_road"): _NO_PART,
    ("misfire_kind", "circuit"): _NO_PART,
    ("coil_ends", "secondary"): "how a secondary winding is watched is the maker's own; few do",
    ("knock_sensor", "performance"): _PLAUSIBLE,
    ("throttle_track", "performance"): _PLAUSIBLE,
    ("boost_sensor", "performance"): _PLAUSIBLE,
    ("wastegate_valve", "performance"): _PLAUSIBLE,
    ("boost_valve", "performance"): _PLAUSIBLE,
    ("volume_regulator", "performance"): _PLAUSIBLE,
    ("pump_module", "performance"): _PLAUSIBLE,
    ("o2_reference", "performance"): _PLAUSIBLE,
    ("catalyst", "heated"): "a heated catalyst is no part of the state",
    ("oil", "too_hot"): "oil's temperature is no quantity of the list",
    ("lost_module", "silent_other"): _NO_PART,
}
"""The same for one kind of code of what is predicted otherwise."""

UNPREDICTED_LETTERS: Mapping[tuple[str, str], str] = {
    ("injector_supply", "C"): "no engine here feeds its injectors in more than two groups",
    ("injector_supply", "D"): "no engine here feeds its injectors in more than two groups",
    ("boost_sensor", "B"): "no engine here has a second sensor of its boost",
    ("wastegate_valve", "B"): "no engine here has a second wastegate",
}
"""And for one letter of it."""

_THIRD = "no engine here is described with a third oxygen sensor in a bank"


def why_no_chance(code: Code) -> str | None:
    """Why a code is not predicted on any engine; None where it is, on one that has what it is about.

    Parameters
    ----------
    code : Code

    Returns
    -------
    str or None
    """
    if (code.part == "o2" or code.of == "o2_exchanged") and (code.sensor or 1) > 2:
        return _THIRD
    by_letter = UNPREDICTED_LETTERS.get((code.of, code.side or ""))
    return by_letter or UNPREDICTED_KINDS.get((code.of, code.kind)) or UNPREDICTED.get(code.of)
