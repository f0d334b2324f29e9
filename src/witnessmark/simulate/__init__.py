"""Engine and state to recordings: seeded captures with their truth, as real instruments would give them."""

from witnessmark.simulate.actuatorcurrent import actuator_currents
from witnessmark.simulate.bench import Bench, BenchCapture, Setup, build_bench
from witnessmark.simulate.capture import UNMODELLED, Capture, capture_from_seed, simulate_capture
from witnessmark.simulate.cylinderpressure import cylinder_pressure
from witnessmark.simulate.demo import DEMO_CASES, demo_captures, write_demo_recordings
from witnessmark.simulate.instruments import Instrument, LogicAnalyser, Scope
from witnessmark.simulate.layouts import LAYOUTS, OTHER_LAYOUTS, layout
from witnessmark.simulate.mishaps import Mishap
from witnessmark.simulate.parts import healthy_engine
from witnessmark.simulate.pulsation import pulses
from witnessmark.simulate.ripple import charging
from witnessmark.simulate.scanlog import ScanSetup, scan_log
from witnessmark.simulate.scenario import RUNNING, Command, Disturbances, Scenario, draw_instrument, draw_scenario
from witnessmark.simulate.secondary import secondary_voltage
from witnessmark.simulate.startercurrent import starter_current
from witnessmark.simulate.truth import CamTruth, Truth, WheelTruth
from witnessmark.simulate.vehicle import Vehicle, build_vehicle
from witnessmark.simulate.world import World, build_world, healthy_state
from witnessmark.simulate.write import edge_csv, sampled_csv, scan_csv, sidecar_toml, write_recording

__all__ = [
    "DEMO_CASES",
    "LAYOUTS",
    "OTHER_LAYOUTS",
    "RUNNING",
    "UNMODELLED",
    "Bench",
    "BenchCapture",
    "CamTruth",
    "Capture",
    "Command",
    "Disturbances",
    "Instrument",
    "LogicAnalyser",
    "Mishap",
    "ScanSetup",
    "Scenario",
    "Scope",
    "Setup",
    "Truth",
    "Vehicle",
    "WheelTruth",
    "World",
    "actuator_currents",
    "build_bench",
    "build_vehicle",
    "build_world",
    "capture_from_seed",
    "charging",
    "cylinder_pressure",
    "demo_captures",
    "draw_instrument",
    "draw_scenario",
    "edge_csv",
    "healthy_engine",
    "healthy_state",
    "layout",
    "pulses",
    "sampled_csv",
    "scan_csv",
    "scan_log",
    "secondary_voltage",
    "sidecar_toml",
    "simulate_capture",
    "starter_current",
    "write_demo_recordings",
    "write_recording",
]
