"""How well whole teeth fit: the table over every plausible tooth count."""

from __future__ import annotations

import math
from dataclasses import dataclass

from witnessmark.infer.belief import Belief, Hypothesis, StepFit
from witnessmark.report.words import NBSP, chance, counted, estimate, inside, listed, number, places_for

__all__ = ["StepRow", "WholeSteps", "whole_steps"]

SHOWN = 6
MOST = 60


@dataclass(frozen=True, slots=True)
class StepRow:
    """One stage with one tooth count, and how whole pitches of it fit."""

    probability: float
    chance: str
    stage: str
    teeth: str
    pitches: str
    step: str
    left: str
    fits: str
    at: tuple[float, float]


@dataclass(frozen=True, slots=True)
class WholeSteps:
    """The table: what it says in a sentence, the rows that matter, the rest."""

    sentence: str
    in_all: str
    probability: float
    rows: tuple[StepRow, ...]
    more: tuple[StepRow, ...]
    n_untold: int


def whole_steps(belief: Belief) -> WholeSteps | None:
    """The whole-step table, best fit first; None where no whole step is in question.

    Parameters
    ----------
    belief : Belief

    Returns
    -------
    WholeSteps or None
    """
    if not belief.steps:
        return None
    ranked = sorted(belief.steps, key=lambda fit: -fit.probability)
    rows = [_row(fit) for fit in ranked]
    total = sum(h.probability for h in belief.hypotheses if _has_step(h))
    in_all = f"All whole steps together: {chance(total)} of everything."
    shown, more = tuple(rows[:SHOWN]), tuple(rows[SHOWN:MOST])
    return WholeSteps(f"{_sentence(belief, ranked)} {in_all}", in_all, total, shown, more, max(0, len(rows) - MOST))


def _has_step(hypothesis: Hypothesis) -> bool:
    return any(p.variable == "pitch_slip" for fault in hypothesis.faults for p in fault.parameters)


def _row(fit: StepFit) -> StepRow:
    sd = _left_sd(fit)
    return StepRow(
        probability=fit.probability,
        chance=chance(fit.probability),
        stage=fit.stage,
        teeth=fit.teeth,
        pitches=_pitches(fit.pitches),
        step=f"{number(fit.step_deg, 0 if abs(fit.step_deg - round(fit.step_deg)) < 0.005 else 1)}°",
        left=estimate(fit.residual_deg, sd, "deg", plus=True),
        fits=_fit_words(fit.z),
        at=(fit.residual_deg, sd),
    )


def _left_sd(fit: StepFit) -> float:
    """The spread of what is left over, from it and its size in spreads."""
    return abs(fit.residual_deg / fit.z) if abs(fit.z) > 1e-6 and math.isfinite(fit.z) else 0.0


def _pitches(count: int) -> str:
    return f"{abs(count)}{NBSP}{'early' if count > 0 else 'late'}" if count else "none"


def _fit_words(z: float) -> str:
    size = abs(z)
    if size < 1.0:
        return "fits"
    if size < 2.0:
        return "fits loosely"
    return "fits badly" if size < 3.0 else "does not fit"


def _sentence(belief: Belief, ranked: list[StepFit]) -> str:
    best = ranked[0]
    sd = _left_sd(best)
    places = places_for(sd, best.residual_deg)
    pitch = f"{counted(abs(best.pitches), 'pitch', 'pitches')} {'early' if best.pitches > 0 else 'late'}"
    left = f"leaves {estimate(abs(best.residual_deg), sd, 'deg', repeat_unit=True)} over"
    if number(abs(best.residual_deg), places).strip("0.") == "":
        left = "leaves nothing over"
    head = f"Among whole steps the best is {pitch} with {best.teeth}, {inside(best.stage)}"
    said = f"{head}: it {left}, and {_fit_words(best.z)}."
    teeth, mass = _bare(belief.step_set), f"{chance(belief.step_mass)} of what whole steps explain"
    if teeth and len(teeth) <= 4:
        said += f" {mass} lies with {listed(teeth, 'or')}."
    elif teeth:
        said += f" {mass} is spread over {counted(len(teeth), 'tooth count')}."
    return said


def _bare(teeth: tuple[str, ...]) -> list[str]:
    """Tooth counts without the stage before them, where it is the same for all."""
    stages = {name.partition(": ")[0] for name in teeth if ": " in name}
    return [name.rpartition(": ")[2] for name in teeth] if len(stages) <= 1 else list(teeth)
