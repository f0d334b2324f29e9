"""Which module holds the rule of which quantity; a module is imported when one of its quantities is first asked for."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from importlib import import_module

from witnessmark.predict.rule import Rule

__all__ = ["HOMES", "rule_of"]

# Module of this package -> the quantities it predicts. Where a module stands first it is cheap to import.
HOMES: Mapping[str, tuple[str, ...]] = {
    "drive": (
        "cam_phase_error",
        "cam_edge_angle",
        "cam_separation",
        "cam_phase_reported",
        "cam_deviation",
        "learnt_reported",
        "tdc_offset",
        "phase_scatter",
        "pins_between",
        "mark_offset",
        "tensioner_extension",
        "wheel_angle_seen",
        "wheel_pitch_error",
        "edges_missing",
        "wheel_teeth_seen",
        "signal_polarity",
        "part_identity",
    ),
    # Air, fuel and exhaust.
    "airreadings": (
        "absolute_load",
        "airflow_reported",
        "map_reported",
        "engine_speed",
        "idle_air_demand",
        "manifold_vacuum",
        "boost_pressure",
        "cooler_drop",
        "exhaust_back_pressure",
        "stalls",
        "lacks_power",
    ),
    "airchecks": ("load_reported", "meter_over_density"),
    "trims": ("fuel_trim", "lambda_reported", "o2_response", "rear_activity", "o2_swing"),
    "gases": ("exhaust_gas_share",),
    "fuelside": (
        "fuel_pressure",
        "fuel_delivery",
        "fuel_drop_rate",
        "injector_balance",
        "rail_reported",
        "rail_effort",
        "ethanol_measured",
    ),
    "smoke": ("leak_smoke", "crankcase_pressure"),
    # supplies, sensors, ignition
    "circuits": (
        "branch_drop",
        "reference_volts",
        "signal_dropouts",
        "dropouts_together",
        "insulation_ohm",
        "winding_ohm",
        "circuit_reaches",
        "drain_measured",
    ),
    "surroundings": ("ambient_temperature", "ambient_pressure"),
    "modules": ("supply_reported", "module_answers", "start_permitted", "calibration_id_match", "bus_errors"),
    "currents": ("coil_current", "injector_current", "pump_current"),
    "sparks": ("firing_voltage", "spark_duration"),
    "misfires": ("misfire_count",),
    "knock": ("knock_retard",),
    "sensing": ("signal_amplitude", "edges_extra", "track_gap"),
    "temperatures": ("temperature_reported",),
    "oil": ("oil_pressure", "level_seen"),
    "slew": ("phaser_slew",),
    "cranking": ("starter_current", "cranking_volts", "cranking_speed", "cranks"),
    "battery": ("battery_ohm",),
    "starts": ("starts",),
    "boardvolts": ("charging_volts", "ripple"),
    "warming": ("warm_up_time", "warming_rate"),
    "roughness": ("runs_rough",),
    "vibration": ("vibration_order", "converter_slip"),
    "rattling": ("rattle_time",),
    "looking": ("gap_seen",),
    # graded: predict.graded gives the chance of every grade
    "looks": ("look",),
    "smells": ("smell",),
    "noises": ("noise",),
    "leakheard": ("leak_path",),
    # cylinders
    "compression": (
        "compression_peak",
        "compression_running",
        "relative_compression",
        "tower_peak",
        "loss_angle",
        "polytropic_exponent",
        "overlap_pressure",
        "exhaust_plateau",
    ),
    "valveevents": ("valve_event", "lift_seen", "lash_seen"),
    "cylinderwork": (
        "imep",
        "burn_phasing",
        "contribution",
        "runner_temperature",
        "pulse_height",
        "vacuum_flicker",
    ),
    "handchecks": ("cylinder_leakage", "turning_torque", "coolant_gas_seen", "coolant_drop"),
}
_HOME = {quantity: module for module, quantities in HOMES.items() for quantity in quantities}


@cache
def rule_of(quantity: str) -> Rule | None:
    """The rule that predicts a quantity, or None where nothing does.

    Parameters
    ----------
    quantity : str

    Returns
    -------
    Rule or None
    """
    module = _HOME.get(quantity)
    if module is None:
        return None
    rules: Mapping[str, Rule] = import_module(f"witnessmark.predict.{module}").RULES
    return rules[quantity]
