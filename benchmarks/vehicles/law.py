"""The law by which vehicles come about: what is broken, whether it sleeps, who worked on it, how readings err.

Written for the benchmarks only; nothing here comes from ``infer``. The generator draws by this law and the reference
inverts it. All numbers are our guess; where the product guesses the same thing they agree on purpose, so that what is
measured is the reasoning and not the guess (:data:`SECOND` is where they do not).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.catalogue.faultrows import SYSTEMS, FaultRow, catalogue
from witnessmark.catalogue.faults import FaultInstance
from witnessmark.catalogue.works import job, jobs

__all__ = [
    "ANSWER_ERROR",
    "AWAKE",
    "BIAS",
    "FIRST",
    "MADE_UP",
    "OUTLIER",
    "OUTSIDE",
    "SCALES",
    "SCALE_ODDS",
    "SECOND",
    "SHOWS",
    "SHOWS_ASLEEP",
    "SMALLEST",
    "SORTS",
    "UNREAD",
    "History",
    "Law",
    "draw_history",
    "noted",
    "prior_of",
    "sleeps",
    "type_odds",
]

Array = NDArray[np.float64]

OUTSIDE = 0.08  # vehicles whose fault stands in no catalogue
BIAS = 0.5  # of its spread: what the readings of one class of instrument share
OUTLIER, WIDE = 0.004, 12.0  # chance that a reading is misread, and how many of its spreads it then lies about
SCALES, SCALE_ODDS = np.array([0.8, 1.0, 1.3, 1.8, 2.5]), np.array([0.2, 0.35, 0.25, 0.14, 0.06])
ANSWER_ERROR = 0.02  # an answer noted wrongly, or a set code overlooked
MADE_UP = 0.0004  # a code that nothing set: it was read, and seldom is one made up
UNREAD = 0.01  # a reading that could have been taken and was not to be had; a reading where there could be none
SORTS = ("single", "pair", "nothing_wrong", "elsewhere", "outside")
AWAKE = 0.6  # chance that a fault that comes and goes is there on the day
SHOWS, SHOWS_ASLEEP = 0.9, 0.03  # chance that the complaint shows, awake and asleep
_COMES_AND_GOES = 0.5  # of a row's vehicles, where the row may be permanent too

_NEVER_WORKED, _BEGAN_BEFORE, _MATCHES, _MISMATCHES = 0.1, 0.3, 2.0, 0.5
_BY_CHANCE = 0.1  # what has nothing to do with work begins right after it
_LETTERS = {"heat": "h", "cold": "c", "wet": "w", "vibration": "v", "load": "l"}


@dataclass(frozen=True)
class Law:
    """Noise over what is stated, and by how much a row's prior may be off.

    Parameters
    ----------
    name : str
    noise : float [-]
    wrong : float [-]
        Every row's true prior is the catalogue's times a factor, log-uniform from 1/wrong to wrong.
    sorts : tuple of str
        Types of vehicle that there are; fewer make a smaller world, in which the reference is tried piece by piece.
    misread, unread : float
        Chance of a misreading; of a reading that was not to be had, or that was had where there is none.
    coded, sleeping : bool
        Whether codes are read at all; whether faults come and go.
    """

    name: str
    noise: float = 1.0
    wrong: float = 1.0
    sorts: tuple[str, ...] = SORTS
    misread: float = OUTLIER
    unread: float = UNREAD
    coded: bool = True
    sleeping: bool = True

    def of_row(self, row: FaultRow) -> float:
        """The true prior of a row over the catalogue's."""
        if self.wrong <= 1.0:
            return 1.0
        names = [one.id for one in catalogue(SYSTEMS).rows]
        factors = np.exp(np.random.default_rng(77).uniform(-1.0, 1.0, len(names)) * np.log(self.wrong))
        return float(factors[names.index(row.id)])


FIRST, SECOND = Law("first"), Law("second", noise=1.5, wrong=3.0)
SMALLEST = Law("smallest", sorts=("single",), misread=0.0, unread=0.0, coded=False, sleeping=False)


@dataclass(frozen=True)
class History:
    """What is told beside the readings.

    Parameters
    ----------
    km, years : float
    neglected : bool
        The oil.
    worked : str, optional
        A part of ``works.toml`` somebody worked on; None: nobody did, and that is said.
    began : bool, optional
        Whether the complaint began after it.
    fitted : str, optional
        A part that was renewed without cure.
    when : str, optional
        "heat", "cold" ...: when the complaint shows.
    """

    km: float
    years: float
    neglected: bool
    worked: str | None
    began: bool | None
    fitted: str | None
    when: str | None

    def as_row(self) -> dict[str, object]:
        """For a record: the words that the product's history takes."""
        known = {"km": f"{self.km:.0f}", "years": f"{self.years:.0f}"}
        if self.neglected:
            known["oil"] = "neglected"
        if self.worked is None and self.fitted is None:
            known["worked_on"] = "no"
        done = []
        if self.worked is not None:
            done.append({"verb": "work", "part": self.worked, "began": self.began})
        if self.fitted is not None:
            done.append({"verb": "fitted", "part": self.fitted, "cured": False})
        return {"known": known, "done": done, "when": [self.when] if self.when else []}


def draw_history(rng: np.random.Generator) -> History:
    """A vehicle's past, before its fault is drawn: the fault's prior then follows from it."""
    years = float(rng.uniform(2.0, 22.0))
    parts = sorted(jobs())
    cures = sorted({part for row in catalogue(SYSTEMS).rows for part in row.repair.cures if part in jobs()})
    worked = str(rng.choice(parts)) if rng.random() < 0.35 else None
    return History(
        km=round(years * float(rng.lognormal(np.log(15_000.0), 0.35)), -3),
        years=round(years),
        neglected=bool(rng.random() < 0.15),
        worked=worked,
        began=[True, False, None][int(rng.choice(3, p=[0.4, 0.3, 0.3]))] if worked else None,
        fitted=str(rng.choice(cures)) if rng.random() < 0.45 else None,
        when=str(rng.choice(list(_LETTERS))) if rng.random() < 0.3 else None,
    )


def prior_of(instance: FaultInstance, history: History, law: Law) -> float:
    """Weight of one fault at one place, per 1,000 complaints, for a vehicle with this past."""
    row = instance.row
    weight = row.prior * instance.share * law.of_row(row)
    weight *= row.factors.get("k", 1.0) if history.km > 200_000 else 1.0
    weight *= row.factors.get("a", 1.0) if history.years > 12 else 1.0
    weight *= row.factors.get("o", 1.0) if history.neglected else 1.0
    if history.when and "I" in row.onset:
        own = {letter for letter in row.onset if letter.islower()}
        if own:
            weight *= _MATCHES if _LETTERS[history.when] in own else _MISMATCHES
    if history.fitted in row.repair.cures:
        weight *= 1.0 - row.repair.success
    return weight * _by_work(instance, history)


def _by_work(instance: FaultInstance, history: History) -> float:
    row = instance.row
    only_work = row.onset == "W"
    if "w" not in row.factors and not only_work:
        return 1.0
    # A part that was renewed was worked on too.
    works = [(part, began) for part, began in ((history.worked, history.began), (history.fitted, None)) if part]
    near = [began for part, began in works if job(part).near & instance.where.zones]
    if not near:
        return _NEVER_WORKED if only_work else 1.0
    best = max(near, key=lambda began: (began is True, began is None))
    if best is False:
        return _BEGAN_BEFORE if only_work else 1.0
    near, without = row.factors.get("w", 1.0), _NEVER_WORKED if only_work else 1.0
    # Over the chance by which everything else begins just then: Bayes' rule.
    return without + max(near - without, 0.0) * (1.0 - _BY_CHANCE) / _BY_CHANCE if best else near


def type_odds(singles: float, law: Law = FIRST) -> dict[str, float]:
    """Chance of each type of vehicle, given the weight that all single faults have together."""
    others = catalogue(SYSTEMS).others
    weights = {
        "single": singles,
        "pair": others["two_at_once"],
        "nothing_wrong": others["nothing_wrong"],
        "elsewhere": others["elsewhere"],
    }
    total = sum(weights.values())
    odds = {name: (1.0 - OUTSIDE) * weight / total for name, weight in weights.items()} | {"outside": OUTSIDE}
    there = sum(odds[name] for name in law.sorts)
    return {name: odds[name] / there if name in law.sorts else 0.0 for name in odds}


def noted(chance: Array, *, code: bool = False) -> Array:
    """Chance that an answer is noted as yes, or a code as set, where so is its chance to be so.

    Parameters
    ----------
    chance : ndarray
    code : bool
    """
    return np.asarray(chance * (1.0 - ANSWER_ERROR) + (1.0 - chance) * (MADE_UP if code else ANSWER_ERROR))


def sleeps(row: FaultRow, law: Law = FIRST) -> float:
    """Chance that a fault of this row is asleep on the day."""
    if "I" not in row.onset or not law.sleeping:
        return 0.0
    share = _COMES_AND_GOES if {"S", "L"} & set(row.onset) else 1.0
    return share * (1.0 - AWAKE)
