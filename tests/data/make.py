"""Writes the small recordings of this folder; ``python -m tests.data.make``."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from witnessmark.testing.signals import edge_list, missing_tooth_wheel, switching_samples, turning
from witnessmark.testing.writing import Writing, written

FOLDER = Path(__file__).with_name("recordings")
SIDECAR = """\
# What the person at the bench said about hall_36-1.csv.
[condition]
state = "cranking"
coolant_c = 18
complaint = "present"

[[channel]]
name = "crank"
role = "crank"
edge = "rising"
wheel = "crank"

[[channel]]
index = 1
role = "cam"
wheel = "b1.intake"
"""


def hall() -> bytes:
    """36-1 crank wheel and half-moon cam as changes of state."""
    wheel = missing_tooth_wheel(36, 1)
    crank = tuple(turning((220.0, 260.0), 1.2, angle) for angle in (wheel.rising_deg, wheel.falling_deg))
    cam = tuple(turning((110.0, 130.0), 1.2, np.array([angle])) for angle in (83.0, 263.0))
    times, levels = edge_list([(np.round(up, 6), np.round(down, 6)) for up, down in (crank, cam)])
    return written(times, levels, Writing(), names=["crank", "cam"], digits=6)


def reluctance() -> bytes:
    """60-2 crank wheel as a variable-reluctance sensor shows it: about the change of a bump per tooth, times speed."""
    wheel = missing_tooth_wheel(60, 2)
    times = np.arange(2500) * 1e-4
    first, last = 6.0 * 300.0, 6.0 * 420.0
    rate = (last - first) / 0.25
    angle = np.mod(first * times + rate * times**2 / 2.0, 360.0)
    from_tooth = np.mod(angle[:, None] - (wheel.rising_deg + 1.5)[None, :] + 180.0, 360.0) - 180.0
    bump = -from_tooth / 1.2 * np.exp(-((from_tooth / 1.2) ** 2) / 2.0)
    volts = 1.1 * (first + rate * times) / first * bump.sum(axis=1)
    volts += 0.02 * np.random.default_rng(60).standard_normal(times.size)
    way = Writing(delimiter=";", decimal=",", headings="row", newline="\r\n", preamble=2)
    return written(times, np.round(volts, 2)[:, None], way, names=["crank"], digits=4)


def logic() -> bytes:
    """4-1 crank wheel as a sampled logic line."""
    wheel = missing_tooth_wheel(4, 1)
    up, down = (turning((600.0, 600.0), 0.4, angle) for angle in (wheel.rising_deg, wheel.falling_deg))
    level = switching_samples(up, down, count=2000, step_s=2e-4) > 0.5
    way = Writing(delimiter="\t", time_unit="ms", encoding="utf-16")
    return written(np.arange(2000) * 2e-4, level.astype(np.uint8)[:, None], way, names=["crank"], digits=4)


def two_runs() -> bytes:
    """Two runs one behind the other in one file."""
    lines = hall().split(b"\n")
    return b"\n".join([*lines[:41], *lines[1:41], b""])


def files() -> dict[str, bytes]:
    """Every file of the folder with its content."""
    return {
        "hall_36-1.csv": hall(),
        "hall_36-1.csv.toml": SIDECAR.encode(),
        "reluctance_60-2.csv": reluctance(),
        "logic_wide.txt": logic(),
        "cut.csv": hall()[:-8],
        "two_runs.csv": two_runs(),
    }


def main() -> None:
    """Write them."""
    FOLDER.mkdir(exist_ok=True)
    for name, content in files().items():
        (FOLDER / name).write_bytes(content)


if __name__ == "__main__":
    main()
