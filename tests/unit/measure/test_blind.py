"""No description, any usual wheel, headings that lie or are missing, channels in any order and turned over."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.unit.decode.wheelsim import turning
from tests.unit.measure.bench import Setup, found, record
from witnessmark.engine.tonewheel import parse_wheel
from witnessmark.measure import measure
from witnessmark.recording import read_recording
from witnessmark.recording.types import Recording

HEADINGS = ("Time[s], coil, cam, crank", "time,A,B,C", "", "t (ms);Kanal 0;Kanal 1;Kanal 2")
WAYS = {
    "cranking": lambda: turning(190.0, 10.0, start_deg=77.0, ripple=0.2),
    "six cylinders": lambda: turning(230.0, 10.0, start_deg=333.0, ripple=0.12, per_turn=3.0),
    "idle": lambda: turning(750.0, 16.0, start_deg=500.0, ripple=0.03),
    "running up": lambda: turning(lambda n: np.clip(200.0 + 60.0 * (n - 4.0), 200.0, 1300.0), 24.0, ripple=0.06),
}


def written(recording: Recording, path: Path, heading: str) -> Path:
    """A table of changes under a heading that need not be true; ``;`` in it means decimal commas and milliseconds."""
    levels = np.column_stack([trace.values.astype(int) for trace in recording])
    lines = [heading] if heading else []
    for at, row in zip(recording[0].times_s, levels, strict=True):
        if ";" in heading:
            lines.append(";".join([f"{at * 1e3:.4f}".replace(".", ","), *map(str, row)]))
        else:
            lines.append(", ".join([f"{at:.7f}", *map(str, row)]))
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("wheel", "way"),
    [
        ("60-2", "cranking"),
        ("36-1", "running up"),
        ("36-2", "six cylinders"),
        ("36-2-1", "idle"),
        ("36-2-2", "cranking"),
        ("36-2-2-2", "running up"),
        ("24-1", "six cylinders"),
        ("24 uneven", "cranking"),
        ("12-1", "idle"),
        ("12+1", "cranking"),
        ("4 uneven", "running up"),
        ("4-1", "idle"),
    ],
)
def test_any_usual_wheel(tmp_path: Path, wheel: str, way: str) -> None:
    """The wheel is named, the speeds are right, both cams are seen; every way of writing the file is met by some."""
    pattern, motion = parse_wheel(wheel), WAYS[way]()
    k = len(wheel) + len(way)
    order = [
        ("crank", "b1.intake", "b1.exhaust"),
        ("b1.exhaust", "crank", "b1.intake"),
        ("b1.intake", "b1.exhaust", "crank"),
    ]
    setup = Setup(
        wheel,
        even_rising=k % 2 == 0,
        pitch_sd_deg=0.08,
        jitter_deg=0.05,
        uneven_deg=0.1 * min(30.0, pattern.pitch_deg),
        seed=k,
        inverted=("crank", "b1.exhaust")[: k % 3],
        order=order[k % 3],
        noted=False,
    )
    one = measure(read_recording(written(record(motion, setup), tmp_path / "x.csv", HEADINGS[k % 4])))
    assert one.roles is not None
    assert one.roles.guess is not None
    assert one.roles.guess.pattern.edges_deg == pytest.approx(pattern.edges_deg, abs=0.3)
    assert one.roles.crank == setup.order.index("crank")
    assert [role for _, role, _ in one.channels].count("cam") == 2
    assert not found(one, "cam_phase_error")
    speeds = found(one, "speed_measured")
    assert len(speeds) >= 3
    assert one.turns is not None
    for finding in speeds:
        bounds = np.array([finding.source.from_s, finding.source.to_s])
        if "whole turn" in finding.method:
            inside = (one.turns.from_s >= bounds[0]) & (one.turns.to_s <= bounds[1])
            bounds = np.append(one.turns.from_s[inside], bounds[1])
        true = float(np.mean(np.diff(motion.at(bounds)) / np.diff(bounds))) / 6.0
        assert finding.value == pytest.approx(true, rel=0.02)
