"""A phaser's step response as findings: how fast the cam moves, that it does not, or why a log does not tell."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from witnessmark.finding import Finding, NotMeasured
from witnessmark.measure.log.measured import Event
from witnessmark.measure.log.phasermove import Moves, Step, moves_of
from witnessmark.measure.log.series import Log, Series
from witnessmark.measure.log.slew import Slew, slew_of
from witnessmark.measure.log.spans import StateSpan
from witnessmark.measure.log.stretches import condition_of, source_of, state_at
from witnessmark.measure.log.words import cam_words
from witnessmark.vocabulary import Condition, Place

__all__ = ["CRANK", "Gathered", "step_response"]

CRANK = "angles taken as crank degrees"
"""What is taken for granted of every cam angle of a log."""


@dataclass(slots=True)
class Gathered:
    """What is found of all cams, gathered.

    Parameters
    ----------
    findings, not_measured, events, notes : list
        As in ``LogPart``.
    """

    findings: list[Finding] = field(default_factory=list)
    not_measured: list[NotMeasured] = field(default_factory=list)
    events: list[Event] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def step_response(
    found: Gathered, log: Log, states: Sequence[StateSpan], actual: Series, target: Series, place: Place
) -> None:
    """Add how a cam follows the steps of its target to what is found.

    Parameters
    ----------
    found : Gathered
        Gets a finding ``phaser_slew`` [deg/s], an event where the cam is stuck, or the reason why neither is told.
    log : Log
    states : sequence of StateSpan
    actual, target : Series [deg]
    place : Place
    """
    moves = moves_of(actual, target)
    if moves.overlapping:
        found.notes.append(
            f"{cam_words(place)}: {moves.overlapping} movements of the target left out of the step response: "
            "ramps, or the next command came before the cam was at rest."
        )
    slew = slew_of(moves, stamp_s=max(actual.stamp_s, target.stamp_s), step_deg=actual.step)
    stuck = moves.stuck
    if stuck and len(stuck) >= len(moves.steps) - len(stuck):
        _stuck(found, log, states, stuck, actual, target, place)
    elif slew is None:
        found.not_measured.append(NotMeasured(
            "phaser_slew", place, "no step of the target of 8° or more out of rest that could be followed",
            "a log of actual and target alone while the throttle is opened from idle several times",
        ))  # fmt: skip
    else:
        _slew(found, log, states, moves, slew, actual, target, place)


def _slew(
    found: Gathered, log: Log, states: Sequence[StateSpan], moves: Moves, slew: Slew, actual: Series, target: Series,
    place: Place,
) -> None:  # fmt: skip
    period = actual.period_s
    settles = f"{slew.settles_s:.2g} s" if np.isfinite(slew.settles_s) else "longer than was watched"
    answers = (
        f"begins to move {slew.dead_s:.2f} ± {slew.dead_sd:.2f} s after the command and is at rest after {settles} "
        f"(± {0.3 * (period + target.period_s):.2g} s)"
    )
    if not slew.bounded:
        found.not_measured.append(NotMeasured(
            "phaser_slew", place,
            f"at least {slew.at_least:.0f} °/s from {slew.steps} steps: a sample every {period:.2g} s does not tell "
            f"more; {answers}",
            "a log of actual and target alone, ten times a second or more",
        ))  # fmt: skip
        return
    used = [step for step in moves.steps if step.followed]
    found.findings.append(Finding(
        "phaser_slew", place, slew.value, slew.sd, _condition(log, states, used),
        source_of(log, [actual, target], used[0].from_s, used[-1].until_s),
        f"{slew.steps} steps of the target, a sample every {period:.2g} s; {answers}", (CRANK,),
    ))  # fmt: skip


def _stuck(
    found: Gathered, log: Log, states: Sequence[StateSpan], steps: Sequence[Step], actual: Series, target: Series,
    place: Place,
) -> None:  # fmt: skip
    """What moves not at all has a rate of about 0: by what little it moved in the time it was watched."""
    rates = np.array([abs(step.moved_deg) / max(step.until_s - step.to_s, 0.5) for step in steps])
    noise = max(actual.step, 1.0) / np.array([max(step.until_s - step.to_s, 0.5) for step in steps])
    sd = float(max(np.sqrt(np.mean(np.square(noise)) / len(steps)), np.std(rates) / np.sqrt(len(steps)), 0.2))
    begin, end = steps[0].from_s, steps[-1].until_s
    wanted = np.mean([abs(step.wanted_deg) for step in steps])
    moved = np.mean([abs(step.moved_deg) for step in steps])
    found.findings.append(Finding(
        "phaser_slew", place, float(np.mean(rates)), sd, _condition(log, states, steps),
        source_of(log, [actual, target], begin, end),
        f"{len(steps)} steps of the target by {wanted:.0f}° on average, which the cam did not follow", (CRANK,),
    ))  # fmt: skip
    found.events.append(Event(
        "implausible", tuple(str(one.signal) for one in (actual, target)), begin, end,
        f"The target stepped {len(steps)} times by {wanted:.0f}° on average; the reported position moved {moved:.1f}°: "
        "cam stuck, or its number frozen.",
    ))  # fmt: skip


def _condition(log: Log, states: Sequence[StateSpan], steps: Sequence[Step]) -> Condition:
    """Of movements: the state only where it is the same for all."""
    at = [state_at(states, step.to_s) for step in steps]
    names = {span.state for span in at if span is not None}
    state = names.pop() if len(names) == 1 and None not in at else None
    around = [StateSpan(state or "cruise", step.from_s, step.until_s) for step in steps]
    return condition_of(log, around, state=state)
