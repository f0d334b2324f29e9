"""Engine and state to recordings: seeded captures with their truth, as real instruments would give them."""

from witnessmark.simulate.capture import UNMODELLED, Capture, capture_from_seed, simulate_capture
from witnessmark.simulate.demo import DEMO_CASES, demo_captures, write_demo_recordings
from witnessmark.simulate.instruments import Instrument, LogicAnalyser, Scope
from witnessmark.simulate.layouts import LAYOUTS, OTHER_LAYOUTS, layout
from witnessmark.simulate.scenario import RUNNING, Command, Disturbances, Scenario, draw_instrument, draw_scenario
from witnessmark.simulate.truth import CamTruth, Truth, WheelTruth
from witnessmark.simulate.vehicle import Vehicle, build_vehicle
from witnessmark.simulate.world import World, build_world, healthy_state
from witnessmark.simulate.write import edge_csv, sampled_csv, sidecar_toml, write_recording

__all__ = [
    "DEMO_CASES",
    "LAYOUTS",
    "OTHER_LAYOUTS",
    "RUNNING",
    "UNMODELLED",
    "CamTruth",
    "Capture",
    "Command",
    "Disturbances",
    "Instrument",
    "LogicAnalyser",
    "Scenario",
    "Scope",
    "Truth",
    "Vehicle",
    "WheelTruth",
    "World",
    "build_vehicle",
    "build_world",
    "capture_from_seed",
    "demo_captures",
    "draw_instrument",
    "draw_scenario",
    "edge_csv",
    "healthy_state",
    "layout",
    "sampled_csv",
    "sidecar_toml",
    "simulate_capture",
    "write_demo_recordings",
    "write_recording",
]
