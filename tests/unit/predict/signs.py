"""Every sign that is looked, smelt or listened for, and what brings it out. Directions: common practice, no source.

Quantity, place, word, operating state; then edits as (variable, place, size at its worst): from healthy to there.
"""

from __future__ import annotations

from witnessmark.predict import looks, noises, smells

OBSERVED = {one.name: one for one in (looks.OBSERVED, smells.OBSERVED, noises.OBSERVED)}
TURBO = "made-up four with turbo"

_C, _P = "cylinder_2", "plug_2"
_LOOKS = [
    ("plug=2", "sooty", "off", ("injector_leak", _C, 40.0)),
    ("plug=2", "wet", "off", ("gasket_leak", _C, 3.0)),
    ("plug=2", "oily", "off", ("oil_ingress", _C, 100.0)),
    ("plug=2", "burnt", "off", ("wheel_slip", "crank", 30.0)),
    ("plug=2", "worn", "off", ("spark_gap", _P, 2.2)),
    ("plug=2", "cracked", "off", ("breakdown_kv", _P, 2.0)),
    ("plug=2", "misplaced", "off", ("fitted_part", _P, 2.0)),
    ("part=boot_2", "burnt", "off", ("breakdown_kv", "boot_2", 4.0)),
    ("part=boot_2", "cracked", "off", ("breakdown_kv", "boot_2", 4.0)),
    ("part=boot_2", "corroded", "off", ("resistance", "boot_2", 9e5)),
    ("part=boot_2", "loose", "off", ("resistance", "boot_2", 1e9)),
    ("cylinder=2", "oily", "off", ("oil_ingress", _C, 100.0)),
    ("cylinder=2", "wet", "off", ("gasket_leak", _C, 3.0)),
    ("cylinder=2", "sooty", "off", ("clearance_scale", _C, 0.85)),
    ("cylinder=2", "burnt", "off", ("valve_leak", f"{_C}.exhaust", 20.0)),
    ("cylinder=2", "worn", "off", ("ring_leak", _C, 60.0)),
    ("valve=2.exhaust", "worn", "off", ("lift_scale", f"{_C}.exhaust", 0.2)),
    ("valve=2.exhaust", "loose", "off", ("lash_error", f"{_C}.exhaust", 3.0)),
    ("valve=2.exhaust", "cracked", "off", ("spring_scale", f"{_C}.exhaust", 0.2)),
    ("zone=tail_pipe", "blue", "overrun", ("oil_ingress", _C, 150.0)),
    ("zone=tail_pipe", "white", "warm_up", ("gasket_leak", _C, 3.0)),
    ("zone=tail_pipe", "black", "full_load", ("regulator_error", "regulator", 50.0)),
    ("zone=tail_pipe", "sooty", "off", ("injector_leak", _C, 100.0)),
    ("zone=tail_pipe", "oily", "off", ("oil_ingress", _C, 300.0)),
    ("node=engine_ground", "corroded", "off", ("resistance", "engine_ground", 20.0)),
    ("node=coil_2", "wet", "off", ("shorting", "coil_2", 0.07)),
    ("node=coil_2", "loose", "off", ("dropout_rate", "coil_2", 600.0)),
    ("node=main_relay", "burnt", "off", ("resistance", "main_relay", 0.3)),
    ("node=coil_2", "worn", "off", ("shorting", "coil_2", 100.0)),
    ("node=coil_2", "missing", "off", ("resistance", "coil_2", 1e9)),
    ("node=coil_2", "misplaced", "off", ("circuit_map", "coil_2", 1.0)),
    *((f"duct={duct}", word, "off", ("leak_area", duct, 150.0))
      for duct in ("branch", "charge_pipe", "crankcase", "intake_duct") for word in ("cracked", "loose")),
    *(("duct=plenum", word, "off", ("leak_area", "plenum", 60.0)) for word in ("cracked", "loose")),
    *((f"duct={duct}", "oily", "off", ("ring_leak", _C, 60.0))
      for duct in ("charge_pipe", "intake_duct", "charge_cooler")),
    ("duct=crankcase", "oily", "off", ("leak_area", "crankcase", 80.0)),
    *((f"duct={duct}", "dirty", "off", ("restriction", duct, 0.95))
      for duct in ("air_filter", "port_2", "pickup", "charge_cooler")),
    ("duct=charge_cooler", "cracked", "off", ("leak_area", "charge_cooler", 150.0)),
    ("duct=exhaust_front_1", "sooty", "off", ("leak_area", "exhaust_front_1", 40.0)),
    ("duct=tail", "cracked", "off", ("leak_area", "tail", 80.0)),
    ("chain=primary", "loose", "off", ("slack", "primary", 15.0)),
    ("chain=primary", "worn", "off", ("elongation", "primary", 1.2)),
    ("chain=primary", "cracked", "off", ("drive_connected", "primary", 0.0)),
    ("mesh=primary.b1.intake", "misplaced", "off", ("pitch_slip", "primary.b1.intake", 2.0)),
    ("wheel=crank", "missing", "off", ("wheel_bad_teeth", "crank", 4.0)),
    ("wheel=crank", "loose", "off", ("wheel_slip", "crank", 40.0)),
    ("fluid=oil", "milky", "off", ("gasket_leak", _C, 3.0)),
    ("fluid=oil", "metal", "off", ("lift_scale", f"{_C}.exhaust", 0.1)),
    ("zone=pan", "metal", "off", ("guide_wear", "primary", 8.0)),
    ("zone=pan", "dirty", "off", ("restriction", "pickup", 0.95)),
    ("fuel=fuel", "wet", "off", ("fuel_water", "fuel", 0.3)),
    ("sensor=maf", "dirty", "off", ("sensor_gain", "maf", 0.7)),
    ("part=throttle", "dirty", "off", ("area_error", "throttle", -10.0)),
    ("part=pcv", "dirty", "off", ("area_error", "pcv", -2.4)),
    ("part=pcv", "cracked", "off", ("area_error", "pcv", 40.0)),
    ("part=egr", "sooty", "off", ("area_error", "egr", 80.0)),
    *(("part=turbo", word, "off", ("turbo_efficiency", "engine", 0.3)) for word in ("loose", "oily")),
    *(("part=engine_mount", word, "off", ("mount_stiffness", "driveline", 0.05)) for word in ("cracked", "loose")),
    *(("part=flexplate", word, "off", ("flexplate_play", "driveline", 3.0)) for word in ("cracked", "loose")),
    ("part=belt", "worn", "off", ("accessory_drag", "engine", 60.0)),
    ("part=regulator", "wet", "off", ("inflow_fuel", "plenum", 0.9)),
    ("part=tyres", "worn", "off", ("unbalance", "driveline", 20.0)),
    ("part=injector_2", "dirty", "off", ("injector_flow", _C, 0.3)),
    ("part=injector_2", "misplaced", "off", ("fitted_part", "injector_2", 2.0)),
]  # fmt: skip
_SMELLS = [
    ("zone=exhaust", "fuel", "idle", ("plug_shunt", _P, 100.0)),
    ("zone=exhaust", "burnt_oil", "idle", ("oil_ingress", _C, 300.0)),
    ("zone=exhaust", "coolant", "idle", ("gasket_leak", _C, 3.0)),
    ("zone=exhaust", "sulphur", "idle", ("injector_leak", _C, 100.0)),
    ("zone=engine_bay", "fuel", "idle", ("inflow_fuel", "purge", 0.9)),
    ("zone=engine_bay", "burnt_oil", "idle", ("leak_area", "crankcase", 80.0)),
    *((f"zone={zone}", "hot_electrics", "idle", ("resistance", "main_relay", 0.3)) for zone in ("engine_bay", "cabin")),
    *((f"zone={zone}", "exhaust", "idle", ("leak_area", "exhaust_front_1", 80.0)) for zone in ("engine_bay", "cabin")),
    ("zone=dipstick", "fuel", "off", ("oil_fuel", "engine", 0.15)),
]
_NOISES = [
    ("zone=intake", "hiss", "idle", ("leak_area", "branch", 10.0)),
    ("zone=intake", "roar", "full_load", ("leak_area", "intake_duct", 300.0)),
    ("zone=charge_pipe", "hiss", "full_load", ("leak_area", "charge_pipe", 60.0)),
    ("zone=exhaust", "roar", "idle", ("leak_area", "tail", 80.0)),
    ("zone=exhaust", "tick", "idle", ("leak_area", "exhaust_front_1", 40.0)),
    ("zone=valve_cover", "tick", "idle", ("lash_error", f"{_C}.intake", 3.0)),
    ("zone=front_cover", "rattle", "warm_up", ("slack", "primary", 15.0)),
    ("zone=block", "knock", "full_load", ("fuel_octane", "fuel", 80.0)),
    *(("zone=bellhousing", word, "idle", ("flexplate_play", "driveline", 3.0)) for word in ("knock", "rattle")),
    ("zone=alternator", "whine", "idle", ("diodes_open", "alternator", 3.0)),
    *(("zone=belt", word, "idle", ("accessory_drag", "engine", 60.0)) for word in ("squeal", "grumble", "whine")),
    ("zone=starter", "grumble", "cranking", ("starter_drag", "starter", 150.0)),
    ("zone=fuel_pump", "whine", "key_on", ("restriction", "fuel_filter", 0.98)),
    ("zone=turbo", "whine", "full_load", ("turbo_efficiency", "engine", 0.3)),
    ("zone=crankcase", "whine", "idle", ("area_error", "pcv", 40.0)),
    ("zone=driveline", "grumble", "cruise", ("shudder_torque", "driveline", 150.0)),
]
SIGNS = [
    *(("look", *row) for row in _LOOKS),
    *(("smell", *row) for row in _SMELLS),
    *(("noise", *row) for row in _NOISES),
]
"""Rows of quantity, place, word, state, (variable, place, worst)."""
