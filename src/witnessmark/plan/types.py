"""The plan: which test next, what it costs, and what each outcome would mean."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Outcome", "Plan", "PlannedStep"]


@dataclass(frozen=True, slots=True)
class Outcome:
    """One thing a test may show.

    Parameters
    ----------
    shows : str
        What is seen, in words with numbers: "true TDC 9° to 13° after the wheel's".
    chance : float [-]
    then : str
        What it would mean and what to do next.
    group : str
        Id of the repair group that leads then, or "nothing_wrong", "elsewhere", "none_of_these".
    """

    shows: str
    chance: float
    then: str
    group: str


@dataclass(frozen=True, slots=True)
class PlannedStep:
    """One test or repair, priced.

    Parameters
    ----------
    test : str
        Id in the catalogue.
    words : str
        What to do, one sentence.
    minutes : tuple of float, shape (3,) [min]
        Low, typical, high; covers included.
    teardown : tuple of str
        What must come off, in words.
    needs : tuple of str
        Tools.
    tells_bits : float [bit]
        Expected information about the repair group.
    minutes_to_proof : float [min]
        Expected minutes from here to a proven repair if this is done first.
    hazards : tuple of str
        The usual cautions, in full sentences.
    outcomes : tuple of Outcome
        By falling chance.
    kind : str
        "test" or "repair".
    """

    test: str
    words: str
    minutes: tuple[float, float, float]
    teardown: tuple[str, ...]
    needs: tuple[str, ...]
    tells_bits: float
    minutes_to_proof: float
    hazards: tuple[str, ...]
    outcomes: tuple[Outcome, ...]
    kind: str = "test"


@dataclass(frozen=True, slots=True)
class Plan:
    """The best next step first, then what else could be done, by expected minutes to proof.

    Parameters
    ----------
    steps, alternatives : tuple of PlannedStep
    expected_minutes_to_proof : float [min]
    cannot_beat_minutes : float [min]
        What no plan could go below: every cause known beforehand.
    open_bits : float [bit]
        What is not known about which repair it is.
    """

    steps: tuple[PlannedStep, ...]
    alternatives: tuple[PlannedStep, ...]
    expected_minutes_to_proof: float
    cannot_beat_minutes: float
    open_bits: float
