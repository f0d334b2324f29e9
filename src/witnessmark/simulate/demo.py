"""Recordings of the demonstration cases: one invented engine, once with its crank wheel slipped, once clean.

Seeds stand still: the files come out the same byte for byte wherever the demonstration is laid out.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from witnessmark.engine.drive import CRANK
from witnessmark.engine.state import State
from witnessmark.engine.types import Engine
from witnessmark.errors import one_of
from witnessmark.simulate.capture import Capture, simulate_capture
from witnessmark.simulate.instruments import LogicAnalyser
from witnessmark.simulate.scenario import Disturbances, Scenario
from witnessmark.simulate.vehicle import build_vehicle
from witnessmark.simulate.write import write_recording

__all__ = ["DEMO_CASES", "demo_captures", "write_demo_recordings"]


@dataclass(frozen=True, slots=True)
class _Case:
    vehicle_seed: int
    edits: tuple[tuple[str, str, float], ...]
    complaint: str


_EARLY_DEG = 10.4
_CASES = {
    # Clamped again after the front seal was replaced, the wheel sits too far forward; all else as healthy engines are.
    "crank_wheel_slipped": _Case(
        20,
        (
            ("wheel_slip", CRANK, _EARLY_DEG),
            ("phaser_rest", "b1.intake", 0.3),
            ("phaser_rest", "b1.exhaust", -0.2),
            ("elongation", "primary", 0.04),
            ("guide_wear", "primary", 0.2),
        ),
        "present",
    ),
    "clean": _Case(
        31,
        (
            ("phaser_rest", "b1.intake", -0.4),
            ("phaser_rest", "b1.exhaust", 0.3),
            ("elongation", "primary", 0.06),
            ("guide_wear", "primary", 0.3),
        ),
        "present",
    ),
}
DEMO_CASES = tuple(_CASES)
"""Names of the cases."""

_SCENARIOS = {
    "idle": Scenario("idle", 780.0, 3.2, LogicAnalyser(1e-6, 12.0), coolant_c=88.0, time_zero_s=0.0),
    "cranking": Scenario("cranking", 205.0, 2.6, LogicAnalyser(1e-6, 12.0), coolant_c=41.0, time_zero_s=0.0),
}


def demo_captures(engine: Engine, case: str) -> tuple[Capture, ...]:
    """The captures of a demonstration case: idling, and cranking with the fuel off.

    Parameters
    ----------
    engine : Engine
        The made-up four, or any engine with the cams b1.intake and b1.exhaust behind one stage "primary".
    case : str
        One of :data:`DEMO_CASES`.

    Returns
    -------
    tuple of Capture

    Raises
    ------
    InputError
        For another name.
    """
    if case not in _CASES:
        raise one_of("demonstration case", case, DEMO_CASES)
    what = _CASES[case]
    vehicle = build_vehicle(engine, what.vehicle_seed)
    state = State({(variable, place): value for variable, place, value in what.edits})
    stray = Disturbances(glitches_hz=0.2)
    return tuple(
        simulate_capture(
            vehicle,
            state,
            replace(scenario, complaint=what.complaint, disturbances=stray),
            seed=what.vehicle_seed + k,
            name=f"{name}.csv",
        )
        for k, (name, scenario) in enumerate(_SCENARIOS.items(), start=1)
    )


def write_demo_recordings(engine: Engine, case: str, folder: Path) -> tuple[Path, ...]:
    """Write the recordings of a demonstration case with their notes.

    Parameters
    ----------
    engine : Engine
    case : str
        One of :data:`DEMO_CASES`.
    folder : Path
        Usually ``recordings`` of a case's folder.

    Returns
    -------
    tuple of Path
        Of the tables; each has its note beside it.

    Raises
    ------
    InputError
        For another name of a case.
    """
    return tuple(write_recording(capture.recording, folder) for capture in demo_captures(engine, case))
