"""Prior weights: the catalogue's counts, moved by age, distance, oil, work done and circumstances."""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.catalogue.faults import FaultInstance, catalogue
from witnessmark.catalogue.placeof import ALL
from witnessmark.catalogue.works import job
from witnessmark.infer.history import CIRCUMSTANCES, History, Work

__all__ = ["Prior", "began_then", "other_priors", "prior_of", "would_cure"]

_NEVER_WORKED = 0.1  # pure work faults where nobody worked; our guess
# Chance that a complaint begins right after work that has nothing to do with it; what the work did begins then but for
# the same chance. Our guess: a week out of some ten between work and complaint.
_BY_CHANCE = 0.1
_BEGAN_BEFORE = 0.3  # it was there before the work: our guess
# Chance that a complaint which has a cause does not show though it was looked for: of a cause that is always there, of
# one that comes and goes, of whatever is not listed; our guess. What has no cause never shows.
_HIDES, _HIDES_NOW_AND_THEN, _HIDES_ELSEWHERE = 0.2, 0.7, 0.5
_MATCHES, _MISMATCHES = 2.0, 0.5  # circumstances against an intermittent fault's onset: our guess


@dataclass(frozen=True, slots=True)
class Prior:
    """One instance's prior weight per 1,000 complaints, and what moved it, in words.

    Parameters
    ----------
    weight : float [1/1000]
    moved_by : tuple of (str, float), shape (n,) [-]
        What, in words, and the factor.
    """

    weight: float
    moved_by: tuple[tuple[str, float], ...]


def prior_of(instance: FaultInstance, history: History) -> Prior:
    """Prior weight of one fault at one place, moved by what is known.

    Parameters
    ----------
    instance : FaultInstance
    history : History

    Returns
    -------
    Prior
        Weight per 1,000 complaints; ``moved_by`` names every factor that is not 1.
    """
    factors = [
        *_wear(instance, history),
        *_work(instance, history),
        *_failed_repairs(instance, history),
        *_circumstances(instance, history),
        *_not_seen(instance, history),
    ]
    weight = instance.row.prior * instance.share
    for _, factor in factors:
        weight *= factor
    return Prior(weight, tuple(factors))


def _number(history: History, key: str) -> float | None:
    text = history.known.get(key)
    try:
        return float(text) if text is not None else None
    except ValueError:
        return None


def _wear(instance: FaultInstance, history: History) -> list[tuple[str, float]]:
    factors = instance.row.factors
    found = []
    km, years = _number(history, "km"), _number(history, "years")
    if km is not None and km > 200_000 and "k" in factors:
        found.append((f"{km:,.0f} km".replace(",", " "), factors["k"]))
    if years is not None and years > 12 and "a" in factors:
        found.append((f"{years:.0f} years old", factors["a"]))
    if history.known.get("oil") == "neglected" and "o" in factors:
        found.append(("neglected oil", factors["o"]))
    return found


def _near(instance: FaultInstance, work: Work) -> bool:
    if not (job(work.part).near & instance.where.zones):
        return False
    cam = work.place.get("cam")
    return cam is None or not instance.where.id.startswith("b") or instance.where.id.endswith(str(cam))


def _work(instance: FaultInstance, history: History) -> list[tuple[str, float]]:
    row = instance.row
    only_work = row.onset == "W"
    if "w" not in row.factors and not only_work:
        return []
    near = [work for work in history.before if _near(instance, work)]
    if not near:
        return [("nobody worked there", _NEVER_WORKED)] if only_work and history.work_is_known else []
    best = max(near, key=lambda work: (work.began is True, work.began is None))
    words = f"{best.words} before"
    if best.began is False:
        return [(f"{best.words}, but the complaint was there before", _BEGAN_BEFORE if only_work else 1.0)]
    factor = row.factors.get("w", 1.0)
    if not best.began:
        return [(words, factor)]
    return [(f"{words}, and the complaint began then", began_then(factor, 1.0 if not only_work else _NEVER_WORKED))]


def began_then(factor: float, without: float) -> float:
    """How much likelier a fault is where the complaint began right after work near it, against faults elsewhere.

    Parameters
    ----------
    factor : float [-]
        How much likelier work near it makes the fault, whenever the complaint began.
    without : float [-]
        What of that is there without the work.

    Returns
    -------
    float, shape () [-]

    Notes
    -----
    Bayes' rule: what is there without the work begins right after it by chance, c, as all other faults do, and what the
    work did with 1 - c; over c, which all others have, (c without + (1 - c)(factor - without)) / c.
    """
    due = max(factor - without, 0.0)
    return without + due * (1.0 - _BY_CHANCE) / _BY_CHANCE


def _failed_repairs(instance: FaultInstance, history: History) -> list[tuple[str, float]]:
    """A part renewed without cure is a repair that failed: 1 - success."""
    failed = (work for work in history.done if work.cured is False and would_cure(instance, work))
    return [(f"{work.words}, no cure", 1.0 - instance.row.repair.success) for work in failed]


def would_cure(instance: FaultInstance, work: Work) -> bool:
    """Whether what somebody did is a repair of this fault.

    Parameters
    ----------
    instance : FaultInstance
    work : Work

    Returns
    -------
    bool
    """
    if work.is_repair:
        return work.includes(instance.repair_key)
    return work.verb == "fitted" and work.part in instance.row.repair.cures and _same_part(instance, work)


def _same_part(instance: FaultInstance, work: Work) -> bool:
    """Whether a fault sits in the very part that somebody fitted; so too where nobody said which of several it was.

    One part renewed does not put a set right.
    """
    where = instance.where
    cylinder = work.place.get("cylinder")
    if cylinder is not None and (where.scope == ALL or (where.cylinders and cylinder not in where.cylinders)):
        return False
    own = [part for part in instance.row.repair.cures if where.id.startswith(part)]
    if own and work.part not in own:  # an injector's winding is not cured by a coil
        return False
    sensor = where.key == "sensor"
    if sensor and (work.part == "crank_sensor") != (where.id == "crank"):
        return False
    cam = work.place.get("cam")
    return cam is None or where.id.endswith(str(cam)) or not where.id.startswith("b")


def _circumstances(instance: FaultInstance, history: History) -> list[tuple[str, float]]:
    onset = instance.row.onset
    said = {CIRCUMSTANCES[word] for word in history.circumstances}
    if "I" not in onset or not said:
        return []
    own = {letter for letter in onset if letter.islower()}
    if own & said:
        return [("shows " + " and ".join(sorted(history.circumstances)), _MATCHES)]
    return [("shows " + " and ".join(sorted(history.circumstances)), _MISMATCHES)] if own else []


def _not_seen(instance: FaultInstance, history: History) -> list[tuple[str, float]]:
    """The complaint was looked for and not there: easily so with what comes and goes, seldom with what is always so."""
    if history.complaint_seen is not False:
        return []
    return [("the complaint was not seen here", _HIDES_NOW_AND_THEN if "I" in instance.row.onset else _HIDES)]


def other_priors(history: History) -> dict[str, float]:
    """Weights of the hypotheses that are no fault of the list, per 1,000 complaints.

    Parameters
    ----------
    history : History
        A complaint that was seen here cannot be "nothing wrong".

    Returns
    -------
    dict of str to float [1/1000]
        nothing_wrong, elsewhere, none_of_these, two_at_once.
    """
    others = catalogue().others
    nothing = others["nothing_wrong"] * (0.001 if history.complaint_seen else 1.0)
    hid = _HIDES_ELSEWHERE if history.complaint_seen is False else 1.0
    return {
        "nothing_wrong": nothing,
        "elsewhere": others["elsewhere"] * hid,
        "none_of_these": others["none_of_these"] * hid,
        "two_at_once": others["two_at_once"],
    }
