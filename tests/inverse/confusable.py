"""Two causes that ordinary readings cannot tell apart, as vehicles: what is read of them and what is made of it.

A vehicle is a sound engine of its kind, off by its own share in everything sound engines differ in, with one fault on
top. Whatever is read of it comes from the same one: the same draw for the first readings and for the test that follows.
Codes and answers are the likelier ones.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from zlib import crc32

import numpy as np
import pytest

from benchmarks.vehicles.gauges import Gauges
from tests.unit.infer.worked import without_teeth
from witnessmark.catalogue.procedures import all_procedures
from witnessmark.catalogue.spelt import spelt_fault
from witnessmark.engine.library import find_engine
from witnessmark.engine.state import State
from witnessmark.engine.types import Engine
from witnessmark.finding import Finding, Provenance
from witnessmark.infer.diagnose import Diagnosis, diagnose
from witnessmark.infer.history import History
from witnessmark.plan.next import next_steps
from witnessmark.predict import DriveModel, expect, nuisances, why_not
from witnessmark.predict.codes import code_chance
from witnessmark.predict.differing import sound_states
from witnessmark.predict.graded import grades, is_graded
from witnessmark.vocabulary import Place, Query

__all__ = ["Member", "Pair", "Stood", "Vehicle", "cases", "check", "described", "followed", "queries_of", "share_of"]

SEED = 20_240_229
STANDS = 0.02  # share of the belief from which the product shows a cause
MOST_TESTS = 2  # one is enough but where one of the two is seldom
_EVERY = 5  # of so many cases one is tried on every run
LEADS = 10.0  # times the other's belief: substantial to strong evidence by Jeffreys (1961), from memory
_WRONG_CODE, _WRONG_GRADE = 0.02, 0.1  # chance that it is noted wrongly: the closed list's, data/quantities.toml
_ENDS = {  # of scales: a trim at its stop, firings that all fail, what cannot be less than nothing
    "fuel_trim": (-25.0, 25.0),
    "misfire_count": (0.0, 1000.0),
    "leak_smoke": (0.0, np.inf),
    "phaser_slew": (0.0, np.inf),
    "vibration_order": (0.0, np.inf),
    "spark_duration": (0.0, np.inf),
    "runner_temperature": (0.0, np.inf),
    "cylinder_leakage": (0.0, 100.0),
    "exhaust_gas_share": (0.0, 100.0),
}


@dataclass(frozen=True)
class Member:
    """One of two causes that look alike.

    Parameters
    ----------
    truth : str
        The fault as ``catalogue.spelt`` takes it, with its size.
    counts : str
        Pattern of ``fault@place`` of all rows that would be this cause too: the same part, the same repair.
    """

    truth: str
    counts: str

    def of(self, key: object) -> bool:
        """Whether a hypothesis is this cause alone."""
        if isinstance(key, str) or len(key) != 1:  # type: ignore[arg-type]
            return False
        fault, place = key[0]  # type: ignore[index]
        return re.fullmatch(self.counts, f"{fault}@{place}") is not None


@dataclass(frozen=True)
class Pair:
    """Two causes, what is read first, and which tests part them.

    Parameters
    ----------
    name : str
    members : tuple of Member
    first : tuple of str
        First readings: "procedure: quantity, quantity; states", or "codes: P0016, P0017".
    parting : tuple of str
        Tests of the catalogue that part them by common practice, the usual one first.
    why : str
        What parts them, and the source.
    engine : str
        As :func:`described` takes it.
    given : tuple of ((variable, place), value)
        Where this vehicle differs in a way the pair needs: an empty canister.
    known : tuple of (str, str)
        What is told beside the readings.
    stands : float [-]
        Least belief in either after the first readings, where one of the two is known to be seldom.
    tried : tuple of int
        Whose vehicles are read.
    fails : tuple of (int, str)
        Whose vehicles the product does not part yet, and why.
    """

    name: str
    members: tuple[Member, Member]
    first: tuple[str, ...]
    parting: tuple[str, ...]
    why: str
    engine: str = "made-up four"
    given: tuple[tuple[tuple[str, str], float], ...] = ()
    known: tuple[tuple[str, str], ...] = ()
    stands: float = STANDS
    tried: tuple[int, ...] = (0, 1)
    fails: tuple[tuple[int, str], ...] = ()


@cache
def described(name: str) -> Engine:
    """An invented engine that ships, or one of them with part of its description left out."""
    whole, _, without = name.partition(", ")
    engine = find_engine(whole)
    return without_teeth(engine) if without == "teeth not counted" else engine


def queries_of(engine: Engine, said: str) -> tuple[Query, ...]:
    """Readings as a line names them: "trims_at_speeds: fuel_trim; idle raised"."""
    name, _, rest = said.partition(":")
    wanted, _, states = rest.partition(";")
    names, states = wanted.replace(",", " ").split(), states.split()
    if name == "codes":
        return tuple(Query("code_state", Place.of(code=code)) for code in names)
    model = DriveModel.of(engine)
    procedure = next(one for one in all_procedures().all if one.id == name)
    return tuple(
        query
        for query in procedure.queries(engine)
        if (not names or query.quantity in names)
        and (not states or query.condition.state in states)
        and query.quantity != "code_state"
        and why_not(model, query) is None
    )


@dataclass
class Vehicle:
    """One engine with one fault.

    Parameters
    ----------
    engine : Engine
    fault : str
        As ``catalogue.spelt`` takes it; empty for a sound one.
    given : mapping of (variable, place) to float
        Its own differences where they are said; all others are drawn.
    seed : int
    """

    engine: Engine
    fault: str
    given: Mapping[tuple[str, str], float] = field(default_factory=dict)
    seed: int = SEED
    model: DriveModel = field(init=False)

    def __post_init__(self) -> None:
        self.model = DriveModel.of(self.engine)

    def _own(self, *about: object) -> np.random.Generator:
        """Random numbers that belong to one thing of this vehicle, whenever it is asked about."""
        return np.random.default_rng([self.seed, crc32("|".join(map(str, about)).encode())])

    def _off(self, *about: object) -> float:
        """By how many spreads this vehicle is off in something: as most are, by less than one.

        What is asked is whether the reasoner parts the two. That one vehicle in three is off by more than a spread is
        what its probabilities are for, and is measured elsewhere (benchmarks/simulated_vehicles.py).
        """
        return float(np.clip(self._own(*about).standard_normal(), -1.0, 1.0))

    def _state(self, queries: Sequence[Query]) -> tuple[State, dict[str, float]]:
        """Its own differences, then its fault."""
        moved = nuisances(self.model, queries)
        values = np.array([[one.mean + one.sd * self._off(one.variable, one.place) for one in moved]])
        differs, assumed = sound_states(moved, values)
        sound = {key: float(np.asarray(value)[0]) for key, value in differs.edits.items()}
        numbers = {key: float(value[0]) for key, value in assumed.items()}
        state = State({**sound, **self.given})
        return (spelt_fault(self.fault, self.engine).on(state) if self.fault else state), numbers

    def read(self, queries: Sequence[Query]) -> tuple[Finding, ...]:
        """What is read of it; nothing where there is nothing to read."""
        codes = [query for query in queries if query.quantity == "code_state"]
        graded = [query for query in queries if is_graded(query)]
        plain = [query for query in queries if query not in codes and query not in graded]
        state, numbers = self._state(plain)
        found = {query: self._code(query, state, numbers) for query in codes}
        if plain:
            expected = expect(self.model, plain, state, numbers)
            for query, mean, tolerance in zip(plain, expected.mean[0], expected.tolerance[0], strict=True):
                found[query] = self._number(query, float(mean), float(tolerance))
        if graded:
            for query, chances in zip(graded, grades(self.model, graded, state, numbers)[0], strict=True):
                found[query] = self._grade(query, chances)
        return tuple(finding for query in queries if (finding := found[query]) is not None)

    def _number(self, query: Query, mean: float, tolerance: float) -> Finding | None:
        if np.isnan(mean):
            return None
        sd = float(Gauges.of([query], np.zeros(1)).spread(np.array([mean]))[0])
        if query.kind.kind == "yes_no":
            return _finding(query, float(mean > 0.5), sd)
        value = mean + tolerance * self._off("nominal", query.quantity, query.place)
        value += sd * self._off("reading", query)
        low, high = _ENDS.get(query.quantity, (-np.inf, np.inf))
        value = round(value) if query.quantity == "misfire_count" else value
        return _finding(query, float(np.clip(value, low, high)), sd)

    def _grade(self, query: Query, chances: np.ndarray) -> Finding | None:
        if np.isnan(chances).any():
            return None
        return _finding(query, float(np.argmax(chances)), _WRONG_GRADE)

    def _code(self, query: Query, state: State, numbers: dict[str, float]) -> Finding | None:
        chance = code_chance(self.model, str(query.place.get("code")), state, numbers, 1)
        if chance is None:
            return None
        return _finding(query, float(chance.mean() > 0.5), _WRONG_CODE)


def _finding(query: Query, value: float, sd: float) -> Finding:
    condition = replace(query.condition, complaint="present")
    return Finding(query.quantity, query.place, float(value), sd, condition, Provenance("simulated"))


def share_of(diagnosis: Diagnosis, member: Member) -> float:
    """Belief in one of the two causes, alone."""
    post = diagnosis.posterior
    return sum(post.probability(key) for key in post.log_mass if member.of(key))


@dataclass(frozen=True)
class Stood:
    """What the answer says of one vehicle of a pair.

    Parameters
    ----------
    right, wrong : float [-]
        Belief in its own cause, and in the other.
    verdict : str
    first : str
        What stands first: "fault@place".
    proposed : tuple of str
        The next step and the alternatives, tests only; empty where the two are parted.
    done : str, optional
        The test read just before; None for the first readings.
    """

    right: float
    wrong: float
    verdict: str
    first: str
    proposed: tuple[str, ...]
    done: str | None = None


def followed(pair: Pair, which: int, seed: int = SEED) -> tuple[Stood, ...]:
    """Read one vehicle of a pair, ask what to do next, do it and ask again, until the two are parted or two tests done.

    Of what is proposed the first is done that is a test of this pair; the others are for other causes.
    """
    engine, history = described(pair.engine), History(known=dict(pair.known))
    vehicle = Vehicle(engine, pair.members[which].truth, dict(pair.given), seed)
    by_test = {said.partition(":")[0]: queries_of(engine, said) for said in pair.parting}
    asked = [query for said in pair.first for query in queries_of(engine, said)]
    done: str | None = None
    found: list[Stood] = []
    while True:
        diagnosis = diagnose(engine, vehicle.read(asked), history)
        right, wrong = (share_of(diagnosis, pair.members[i]) for i in (which, 1 - which))
        leader = diagnosis.belief.hypotheses[0]
        first = "+".join(f"{fault.fault}@{fault.place[0][1]}" for fault in leader.faults) or leader.id
        parted = len(found) > 0 and right >= LEADS * wrong
        ends = parted or len(found) == MOST_TESTS
        plan = None if ends else next_steps(diagnosis)
        steps = () if plan is None else (*plan.steps, *plan.alternatives)
        proposed = tuple(step.test for step in steps if step.kind == "test")
        found.append(Stood(right, wrong, diagnosis.belief.verdict.kind, first, proposed, done))
        done = next((name for name in proposed if name in by_test), None)
        if done is None:
            return tuple(found)
        asked += [query for query in by_test.pop(done) if query not in asked]


def cases(pairs: Sequence[Pair]) -> list[object]:
    """Parameters of a test, ``(pair, which)``: each pair's vehicles, one of each cause.

    A few are tried on every run, all of them with ``WITNESSMARK_LONG=1``: each takes several seconds.
    """
    params = []
    for pair in pairs:
        for which in pair.tried:
            marks = [pytest.mark.xfail(strict=True, reason=why) for at, why in pair.fails if at == which]
            if len(params) % _EVERY:
                marks.append(pytest.mark.long)
            name = f"{pair.name}, {pair.members[which].truth}"
            params.append(pytest.param(pair, which, id=name, marks=marks))
    return params


def check(pair: Pair, which: int) -> None:
    """Both causes stand after the first readings and neither is called the cause; tests proposed part them."""
    before, *after = followed(pair, which)
    assert before.verdict != "cause", before
    assert min(before.right, before.wrong) >= pair.stands, before
    assert after, f"no test that parts them is proposed: {before}"
    assert after[-1].right >= LEADS * after[-1].wrong, (before, *after)
    assert after[-1].right >= pair.stands, (before, *after)
