"""The plan: which test next, what it costs, and what each outcome would mean."""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.vocabulary import Query

__all__ = ["FurtherAgreement", "Outcome", "OutcomeReading", "Plan", "PlannedStep", "Priced"]


@dataclass(frozen=True, slots=True)
class OutcomeReading:
    """One reading by which an outcome is known from the others.

    Parameters
    ----------
    query : Query
    low, high : float
        In the quantity's unit: between these it lies in eight cases of ten; of a yes or no its chance, twice.
    words : str
        Where the quantity has its own way of speaking: "the piston's TDC 9° to 13° after the wheel's"; else empty.
    none : bool
        Whether there would mostly be no such reading: the engine does not run, the shaft is driven by nothing.
    """

    query: Query
    low: float
    high: float
    words: str = ""
    none: bool = False


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
    readings : tuple of OutcomeReading
        The same in numbers, the most telling first; empty where only words tell it.
    """

    shows: str
    chance: float
    then: str
    group: str
    readings: tuple[OutcomeReading, ...] = ()


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
class Priced:
    """One first action among all that were looked at.

    Parameters
    ----------
    test : str
        Id of a test, or name of a repair.
    kind : str
        "test" or "repair".
    minutes : float [min]
        Of itself, covers included, and of a repair its proof.
    minutes_to_proof : float [min]
        Expected from here to a proven repair if this is done first; can be had.
    no_plan_beats : float [min]
        No plan that begins with it can expect fewer.
    """

    test: str
    kind: str
    minutes: float
    minutes_to_proof: float
    no_plan_beats: float


@dataclass(frozen=True, slots=True)
class FurtherAgreement:
    """What the owner could agree to besides, and what that would buy.

    Parameters
    ----------
    what : str
        "minutes", "money", a cover, or "everything".
    words : str
        The same in words.
    saves_minutes : float [min]
        Expected.
    first, first_words : str
        What would be done first then.
    minutes, money : float, shape () [min], [-]
        What that takes, covers included: the least that must be agreed to.
    """

    what: str
    words: str
    saves_minutes: float
    first: str
    first_words: str
    minutes: float
    money: float


@dataclass(frozen=True, slots=True)
class Plan:
    """The best next step first, then what else could be done, by expected minutes to proof.

    Parameters
    ----------
    steps, alternatives : tuple of PlannedStep
        No step at all where none lies inside what was agreed.
    expected_minutes_to_proof : float [min]
    cannot_beat_minutes : float [min]
        What no plan could go below: every cause known beforehand.
    open_bits : float [bit]
        What is not known about which repair it is.
    no_plan_beats : float [min]
        What no plan could go below, by all that was looked at: the gap to the best possible plan is at most the
        difference.
    looked_ahead : int
        So many actions ahead everything was looked at that could still change the choice.
    end_minutes : float [min]
        Expected if nothing more on the list is done now: the vehicle is gone through from end to end, or, where
        something was agreed to, the owner is asked again.
    priced : tuple of Priced
        Every first action that was looked at, the best first.
    offers : tuple of FurtherAgreement
        What a further agreement would buy; empty where nothing is limited.
    instead : PlannedStep, optional
        The technician's own choice, where one was named.
    limited : bool
        Whether the owner's agreement sets any limit.
    waits : str
        Why tests with the engine running wait, in full sentences; empty where they need not.
    confirms : str
        Name of the dear repair that would be next, where the first step is the direct look before it; else empty.
    """

    steps: tuple[PlannedStep, ...]
    alternatives: tuple[PlannedStep, ...]
    expected_minutes_to_proof: float
    cannot_beat_minutes: float
    open_bits: float
    no_plan_beats: float = 0.0
    looked_ahead: int = 1
    end_minutes: float = 0.0
    priced: tuple[Priced, ...] = ()
    offers: tuple[FurtherAgreement, ...] = ()
    instead: PlannedStep | None = None
    limited: bool = False
    waits: str = ""
    confirms: str = ""
