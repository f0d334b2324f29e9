"""Chains, sprockets and belts against published and independently computed values.

``check_values.csv`` holds value, unit, tolerance and source of each; every row of the topic is recomputed with the
functions of ``physics``, or stands in ``NOT_COMPUTED`` with the reason. The source is told in the name of each test.
"""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest

from tests.references.check_values import Row, rows_of
from witnessmark.engine.drive import CRANK, Sprocket, Stage, TimingDrive
from witnessmark.engine.number import Number
from witnessmark.physics import chain, path, wear

TOPIC = "1 chain/sprocket"

NOT_COMPUTED = {
    "industrial roller-chain elongation limit": "advice for industrial drives; no timing drive may go that far",
    "industrial limit, fixed centres / parallel strands": "advice for industrial drives",
    "max elongation for large sprockets 200/N": "advice for industrial drives",
    "engine-oil chain wear test length": "the length of an oil test, nothing to compute",
    "GF-6 Sequence X chain elongation limit": "the limit of an oil test; its 0.64° is checked as a retard",
    "ISO 5296 synchronous belt pitch": "a standard's size; an engine's pitch is described, never taken from a list",
}


ROWS = rows_of(TOPIC)


# ---------------------------------------------------------------- how each kind of row is recomputed


def sprocket(shaft: str, teeth: float) -> Sprocket:
    return Sprocket(shaft, Number.exactly(teeth))


def drive_of(*pairs: tuple[float, float]) -> TimingDrive:
    """Chains one behind the other, from the crank to a cam."""
    shafts = [CRANK, *(f"idler_{i}" for i in range(1, len(pairs))), "b1.intake"]
    return TimingDrive(
        tuple(
            Stage(f"chain_{i}", "chain", sprocket(shafts[i - 1], a), (sprocket(shafts[i], b),))
            for i, (a, b) in enumerate(pairs, start=1)
        )
    )


def two_chains(n: dict[str, float]) -> TimingDrive:
    return drive_of((n["Nc"], n["Ni1"]), (n["Ni2"], n["Ncam"]))


def step(drive: TimingDrive, number: int, *, at_driver: bool) -> float:
    """The step of a stage as one of its ends alone gives it."""
    stage = drive.stages[number - 1]
    mesh = stage.driver if at_driver else stage.driven[0]
    found = chain.pitch_step_deg(drive, stage, mesh.shaft)
    assert found is not None
    return found


def staged_step(row: Row) -> float:
    pairs = re.findall(r"(\d+) -> (?:cam )?(\d+)", row.inputs)
    drive = drive_of(*((float(a), float(b)) for a, b in pairs))
    number = int(re.search(r"chain (\d)", row.quantity)[1])  # type: ignore[index]
    ends = [step(drive, number, at_driver=at) for at in (True, False)]
    assert ends[0] == pytest.approx(ends[1], rel=1e-12)
    return ends[0]


def loop(row: Row) -> path.ChainPath:
    pitch = row.n["p"] / 1000.0
    places = re.findall(r"N=(\d+)@\((-?\d+),(-?\d+)\)", row.inputs)
    wheels = [path.PathWheel.sprocket(int(n), pitch, float(x) / 1000, float(y) / 1000) for n, x, y in places]
    if roller := re.search(r"R=(\d+) roller centred \((-?\d+),(\d+)\)", row.inputs):
        r, x, y = (float(v) / 1000.0 for v in roller.groups())
        wheels.append(path.PathWheel(x, y, r, side=-1))
    return path.chain_path(wheels)


def retard(row: Row) -> float:
    n = row.n
    return float(wear.wear_retard_deg(100.0 * n["eps"], n["S"], n["p"], chain.step_deg(n["Nc"], 1.0)))


def elongation(row: Row) -> float:
    degrees = float(re.search(r"a (\d+) deg", row.quantity)[1])  # type: ignore[index]
    n = row.n
    return float(wear.elongation_percent_for(degrees, n["S"], n["p"], chain.step_deg(n["Nc"], 1.0)))


def two_stage_retard(row: Row) -> float:
    """The counts between the two chains are not given; 16 and 14 tie this crank to this cam (20/16 · 14/35 = 1/2)."""
    numbers = dict(re.findall(r"(\w+)=([\d.]+)", row.inputs))
    eps = 100.0 * float(re.search(r"eps1=eps2=([\d.]+)", row.inputs)[1])  # type: ignore[index]

    def stage(i: int, a: Sprocket, b: Sprocket) -> Stage:
        driven = Sprocket(b.shaft, b.teeth, Number.exactly(float(numbers[f"S{i}"])))
        return Stage(f"chain_{i}", "chain", a, (driven,), Number.exactly(float(numbers[f"p{i}"])))

    crank, cam = float(numbers["Nc"]), float(numbers["Ncam"])
    drive = TimingDrive(
        (
            stage(1, sprocket(CRANK, crank), sprocket("idler", 16)),
            stage(2, sprocket("idler", 14), sprocket("b1.intake", cam)),
        )
    )
    found = wear.drive_retard_deg(drive, "b1.intake", {"chain_1": eps, "chain_2": eps})
    assert found is not None
    return float(found)


def ride_up(row: Row) -> float:
    n = row.n
    return float(wear.ride_up_pitches(100 * n["eps"], n["N1"], n["N2"], n["C"] / 1000, n["p"] / 1000))


def centres(row: Row) -> tuple[float, float, float]:
    return row.n["N1"], row.n["N2"], row.n["C/p"]


RECOMPUTED: dict[str, Callable[[Row], float]] = {
    "pitch diameter": lambda row: 1000 * float(chain.pitch_diameter(row.n["N"], row.n["p"] / 1000)),
    "pitch diameter per unit pitch 1/sin(180/N)": lambda row: float(chain.pitch_diameter(row.n["N"], row.n["p"])),
    "crank degrees per tooth of a cam sprocket 720/N": lambda row: float(chain.step_deg(row.n["N"], chain.CAM_RATIO)),
    "crank degrees per tooth of a crank sprocket 360/N": lambda row: float(chain.step_deg(row.n["N"], 1.0)),
    "staged drive overall ratio (Nc/Ni1)*(Ni2/Ncam)": lambda row: chain.staged_ratio(
        [(row.n["Nc"], row.n["Ni1"]), (row.n["Ni2"], row.n["Ncam"])]
    ),
    "crank deg per one pitch on the PRIMARY chain (every cam behind it)": lambda row: step(
        two_chains(row.n), 1, at_driver=True
    ),
    "crank deg per one pitch on the SECONDARY chain, from the driven sprocket 720/Ncam": lambda row: step(
        two_chains(row.n), 2, at_driver=False
    ),
    "the same from the driving sprocket, (360/Ni2)*(Ni1/Nc)": lambda row: step(two_chains(row.n), 2, at_driver=True),
    "three-stage drive: crank deg per pitch on chain 1, 360/(N w/wcrank)": staged_step,
    "three-stage drive: crank deg per pitch on chain 2, 360/(N w/wcrank)": staged_step,
    "three-stage drive: crank deg per pitch on chain 3, 360/(N w/wcrank)": staged_step,
    "idler rotation per crank revolution": lambda row: (
        360 * chain.shaft_ratios(drive_of((row.n["Nc"], row.n["Ni1"]), (10, 10)))["idler_1"]
    ),
    "odd cam tooth count cannot be a direct 2:1 drive: needed crank teeth": lambda row: float(
        chain.crank_teeth_for(row.n["Ncam"])
    ),
    "chordal speed ripple 1-cos(180/N)": lambda row: float(chain.chordal_ripple(row.n["N"])),
    "roll-on (kinematic) radius N p/(2 pi) vs pitch radius": lambda row: float(
        2 * chain.roll_on_radius(row.n["N"], row.n["p"]) / chain.pitch_diameter(row.n["N"], row.n["p"])
    ),
    "chain length in pitches, exact tangent geometry": lambda row: float(path.links_exactly(*centres(row))),
    "chain length in pitches, standard approximation 2C+(N1+N2)/2+(N2-N1)^2/(4 pi^2 C)": lambda row: float(
        path.links_approximately(*centres(row))
    ),
    "centre distance in pitches from chain length (standard approximation)": lambda row: float(
        path.centre_distance_for(row.n["N1"], row.n["N2"], row.n["L"])
    ),
    "path length, convex loop of 3 sprockets (pitch-circle arcs)": lambda row: 1000 * loop(row).length,
    "same loop, length in pitches (wraps counted as N*theta/2pi)": lambda row: loop(row).pitches(row.n["p"] / 1000),
    "path length with a smooth roller R=20 outside the loop pushing the slack span inward (reverse wrap)": lambda row: (
        1000 * loop(row).length
    ),
    "cam retard from elongation eps*(S/p)*360/Nc (span S of tight side)": retard,
    "first-order retard eps*(S/p)*360/Nc with that span (exact: row above)": retard,
    "exact ride-up geometry: pitches lost on the tight side at 1 % elongation": ride_up,
    "same in crank degrees": lambda row: ride_up(row) * float(chain.step_deg(row.n["N1"], 1.0)),
    "tight span length sqrt(C^2-(R2-R1)^2)": lambda row: (
        1000 * float(path.tight_span(row.n["N1"], row.n["N2"], row.n["C"] / 1000, row.n["p"] / 1000))
    ),
    "elongation equivalent to a 5 deg crank correlation shift": elongation,
    "elongation equivalent to a 10 deg crank correlation shift": elongation,
    "two-stage retard eps1*S1/p1*360/Nc + eps2*S2/p2*720/Ncam": two_stage_retard,
    "belt pulley pitch diameter p z/pi": lambda row: (
        1000 * float(chain.belt_pulley_diameter(row.n["z"], row.n["p"] / 1000))
    ),
}


@pytest.mark.parametrize("row", [row for row in ROWS if row.quantity not in NOT_COMPUTED], ids=str)
def test_value(row: Row) -> None:
    found = RECOMPUTED[row.quantity](row)
    assert abs(found - row.expected) <= row.tolerance, f"{found} for {row.expected} ± {row.tolerance}; {row.source}"


def test_every_row_is_recomputed_or_set_aside_with_a_reason() -> None:
    names = {row.quantity for row in ROWS}
    assert len(ROWS) == 98
    assert names == set(RECOMPUTED) | set(NOT_COMPUTED)
    assert not set(RECOMPUTED) & set(NOT_COMPUTED)
    assert all(NOT_COMPUTED.values())
