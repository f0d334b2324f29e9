"""Recordings for the tests of measuring: wheels on a turning crank as traces, every edge's truth known."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tests.unit.decode.wheelsim import Motion, Sensor, read_wheel
from witnessmark.engine.file import engine_from_toml
from witnessmark.engine.tonewheel import WheelPattern, parse_wheel
from witnessmark.engine.types import Engine
from witnessmark.finding import Finding
from witnessmark.measure import CamSeen, Measurement
from witnessmark.recording.types import ExplicitTime, Recording, Trace
from witnessmark.testing.signals import edge_list

FloatArray = NDArray[np.float64]
CamEdges = Sequence[tuple[float, bool]]

# Six edges of a cam wheel in crank degrees behind the index, and those of another: no two turns alike.
INTAKE: CamEdges = ((40.0, False), (110.0, True), (215.0, False), (330.0, True), (470.0, False), (610.0, True))
EXHAUST: CamEdges = ((95.0, False), (180.0, True), (300.0, False), (505.0, True))


@dataclass
class Setup:
    """What is on the crank and the cams, and how it is recorded."""

    wheel: str = "60-2"
    cams: Mapping[str, CamEdges] | None = None
    even_rising: bool = False
    pitch_sd_deg: float = 0.0
    jitter_deg: float = 0.02
    uneven_deg: float = 0.3
    seed: int = 1
    inverted: tuple[str, ...] = ()
    order: tuple[str, ...] = ()
    names: Mapping[str, str] | None = None
    noted: bool = True
    made: WheelPattern | None = None  # the wheel as it is, where it is not the described one

    def cam_edges(self) -> Mapping[str, CamEdges]:
        return {"b1.intake": INTAKE, "b1.exhaust": EXHAUST} if self.cams is None else self.cams


def cam_times(
    edges: CamEdges, motion: Motion, early_deg: float, jitter_deg: float, seed: int
) -> dict[bool, FloatArray]:
    """When the edges of a cam wheel come, by direction; the cam stands early by so much."""
    rng = np.random.default_rng(seed)
    low, high = motion.deg[0], motion.deg[-1]
    cycles = np.arange(np.floor(low / 720.0) - 1, np.ceil(high / 720.0) + 2) * 720.0
    out = {}
    for up in (True, False):
        at = np.concatenate([cycles + deg - early_deg for deg, rising in edges if rising == up] or [np.empty(0)])
        at = at + rng.normal(0.0, jitter_deg, at.size)
        at = np.sort(at[(at > low) & (at < high)])
        out[up] = np.interp(at, motion.deg, motion.times_s)
    return out


def record(motion: Motion, setup: Setup | None = None, early_deg: Mapping[str, float] | None = None) -> Recording:
    """A recording of state changes: the crank, and every cam as early as told."""
    setup = setup or Setup()
    sensor = Sensor(
        setup.even_rising, setup.pitch_sd_deg, setup.jitter_deg, uneven_deg=setup.uneven_deg, seed=setup.seed
    )
    crank = read_wheel(setup.made or parse_wheel(setup.wheel), motion, sensor)
    channels = {"crank": {up: crank.times_s[crank.rising == up] for up in (True, False)}}
    for k, (cam, edges) in enumerate(setup.cam_edges().items()):
        early = (early_deg or {}).get(cam, 0.0)
        channels[cam] = cam_times(edges, motion, early, setup.jitter_deg, setup.seed + 10 + k)
    order = setup.order or tuple(channels)
    pairs = []
    for name in order:
        turned = name in setup.inverted
        pairs.append((channels[name][not turned], channels[name][turned]))
    times, levels = edge_list(pairs)
    traces = [_trace(k, name, levels[:, k], ExplicitTime(times), setup) for k, name in enumerate(order)]
    return Recording(tuple(traces), "sha256:test", "bench.csv", "edge_csv")


def _trace(column: int, name: str, levels: NDArray[np.uint8], time: ExplicitTime, setup: Setup) -> Trace:
    shown = (setup.names or {}).get(name, f"channel {column}")
    trace = Trace(shown, column, levels, time, kind="levels", stamp_s=1e-6)
    if not setup.noted:
        return trace
    return replace(trace, role="crank" if name == "crank" else "cam", wheel=name)


def described(setup: Setup | None = None, *, reference_deg: float | None = 84.0, edges: bool = True) -> Engine:
    """The engine as a technician describes it: its crank wheel, its reference, its cam edges after TDC."""
    setup = setup or Setup()
    text = ["cylinders = 4", 'layout = "inline"', 'cams = ["intake", "exhaust"]', "[[wheel]]", 'shaft = "crank"']
    text += [f'pattern = "{setup.wheel}"', f'even_edge = "{"rising" if setup.even_rising else "falling"}"']
    text += [f"reference_deg = {reference_deg}"] if reference_deg is not None else []
    for cam, places in setup.cam_edges().items():
        text += ["[[wheel]]", f'shaft = "{cam.split(".")[1]}"']
        if edges:
            zero = reference_deg if reference_deg is not None else 84.0
            rows = [
                f'{{edge = "{"rising" if up else "falling"}", after_tdc_deg = {(at + zero) % 720.0}}}'
                for at, up in places
            ]
            text.append(f"edges = [{', '.join(rows)}]")
    return engine_from_toml("\n".join(text))


def found(one: Measurement, quantity: str, words: str = "", **place: str | int) -> list[Finding]:
    return [
        f
        for f in one.findings
        if f.quantity == quantity and words in f.method and place.items() <= f.place.as_dict().items()
    ]


def value(one: Measurement, quantity: str, **place: str | int) -> float:
    (finding,) = found(one, quantity, **place)
    return finding.value


def seen(one: Measurement, cam: str) -> CamSeen:
    (cam_seen,) = [c for c in one.cams if c.cam == cam]
    return cam_seen
