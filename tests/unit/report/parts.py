"""Findings and hypotheses made by hand, the parts of the invented assessments."""

from __future__ import annotations

import math

from witnessmark.finding import Finding, Provenance
from witnessmark.infer.belief import Block, Expected, FaultAt, Hypothesis, ParameterEstimate, Weight
from witnessmark.vocabulary import Condition, Place

HOT_IDLE = Condition(state="idle", speed_rpm=780.0, coolant_c=88.0, phaser="parked", complaint="present")


# ---------------------------------------------------------------- findings


def deviation(cam: str, value: float, *, bank: int = 1, condition: Condition = HOT_IDLE) -> Finding:
    place = Place.of(bank=bank, cam=cam)
    typed = Provenance("typed", text=f"cam_deviation bank={bank} cam={cam} {value:g}")
    return Finding("cam_deviation", place, value, 1.0, condition, typed, "read off the vehicle’s own screen")


def code(name: str) -> Finding:
    return Finding(
        "code_state", Place.of(code=name), 1.0, 0.02, Condition(state="key_on"), Provenance("code", text=name)
    )


def measured(quantity: str, value: float, sd: float, *, condition: Condition = HOT_IDLE, **place: str | int) -> Finding:
    source = Provenance("recording", digest="sha256:" + "5e" * 32, trace="cam_in", from_s=1.2, to_s=14.9)
    return Finding(
        quantity,
        Place.of(**place),
        value,
        sd,
        condition,
        source,
        "edges, mean of 97 cycles",
        ("wheel of 35 teeth and one gap",),
    )


def numbered(*findings: Finding) -> tuple[Finding, ...]:
    return tuple(finding.with_id(f"f{i}") for i, finding in enumerate(findings, start=1))


# ---------------------------------------------------------------- belief


def weight(leader: Hypothesis, rival: Hypothesis, *blocks: Block) -> Weight:
    posterior = 10.0 * math.log10(leader.probability / rival.probability)
    return Weight(leader.id, rival.id, posterior - sum(b.decibans for b in blocks), blocks, posterior)


def fault(name: str, place: tuple[str, str], words: str, variable: str, value: float, sd: float, unit: str) -> FaultAt:
    return FaultAt(name, (place,), (ParameterEstimate(variable, value, sd, unit),), words)


def slipped_wheel(p: float, name: str = "h1") -> Hypothesis:
    words = "crank wheel slipped on its shaft"
    also = (
        Expected("tdc_offset", Place.of(), Condition(state="cranking"), 10.9, 0.9, "deg"),
        Expected("wheel_angle_seen", Place.of(wheel="crank"), Condition(state="off"), 10.9, 1.1, "deg"),
    )
    at = fault("wheel_slipped", ("wheel", "crank"), words, "wheel_slip", 10.9, 0.8, "deg")
    return Hypothesis(name, (at,), p, 0.004, -8.1, words, also)


def worn_chain(p: float, name: str = "h2") -> Hypothesis:
    words = "timing chain worn longer"
    also = (Expected("tensioner_extension", Place.of(chain="primary"), Condition(state="off"), 9.4, 2.0, "mm"),)
    at = fault("chain_worn", ("chain", "primary"), words, "elongation", 1.2, 0.2, "%")
    return Hypothesis(name, (at,), p, 0.014, -9.6, words, also)


def jumped_chain(p: float, name: str = "h3") -> Hypothesis:
    words = "timing chain jumped at the crank"
    at = fault("chain_jumped", ("mesh", "primary.crank"), words, "pitch_slip", -1.0, 0.0, "pitch")
    return Hypothesis(name, (at,), p, 0.006, -11.9, words)


def stale_zero(p: float, name: str = "h4") -> Hypothesis:
    words = "learnt zero of all cams stale"
    at = fault("not_relearnt", ("learnt_item", "cam_zero"), words, "learnt_error", 10.8, 1.0, "deg")
    return Hypothesis(name, (at,), p, 0.005, -14.4, words)


def specials(nothing_wrong: float, elsewhere: float, none_of_these: float) -> tuple[Hypothesis, ...]:
    return (
        Hypothesis("none_of_these", (), none_of_these, 0.06, -13.0, "something is wrong, and nothing listed fits"),
        Hypothesis(
            "elsewhere", (), elsewhere, 0.6, -15.0, "the complaint is real, its cause outside what was looked at"
        ),
        Hypothesis("nothing_wrong", (), nothing_wrong, 0.03, -18.0, "everything looked at is as it should be"),
    )


def ranked(*hypotheses: Hypothesis) -> tuple[Hypothesis, ...]:
    return tuple(sorted(hypotheses, key=lambda h: -h.probability))


def minor_causes(total: float, count: int = 31) -> tuple[Hypothesis, ...]:
    share = total / count
    return tuple(Hypothesis(f"h{5 + i}", (), share, 0.001, -13.0, f"lesser cause number {i + 1}") for i in range(count))
