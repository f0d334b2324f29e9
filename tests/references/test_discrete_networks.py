"""The product's sums over sets of faults against published networks, and against other people's exact inference.

Sources stand in docs/references.md. Everything is weighed by :mod:`witnessmark.infer.discrete`; the oracle is general
variable elimination (``elimination.py``) and, where it is installed, pyAgrum (extra "crosscheck").
"""

from __future__ import annotations

import gzip
import itertools
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from tests.references.elimination import Table, joint
from tests.references.networks import ALARM_BELOW, ALARM_EVIDENCE, ALARM_FAULTS, ASIA
from witnessmark.infer.discrete import (
    FaultSets,
    Weighed,
    fault_sets,
    log_answers,
    log_prior_of_sets,
    smallest_sets,
    strongest_of_set,
    weigh,
    while_some_sleep,
)
from witnessmark.infer.intermittent import one_episode_ratio

# ---------------------------------------------------------------- Asia


def table_of(network: list[Table], name: str) -> np.ndarray:
    """The one table that ends in a variable."""
    return next(values for names, values in network if names[-1] == name)


def asia(*, visit: int = 1, dyspnoea: bool = True) -> Weighed:
    """Asia fits the product's structure: three faults, smoking their common cause, each answer given the set."""
    sets = fault_sets(3, 3)  # tub, lung, bronc
    chance = np.array(
        [[table_of(ASIA, "tub")[visit, 0], *(table_of(ASIA, name)[smoke, 0] for name in ("lung", "bronc"))]
         for smoke in (0, 1)]
    )  # fmt: skip
    has = [[i in members for i in range(3)] for members in sets.members.tolist()]
    law = np.array([table_of(ASIA, "dysp")[0 if tub or lung else 1, 0 if bronc else 1] for tub, lung, bronc in has])
    seen = log_answers([law], [0]) if dyspnoea else np.zeros(len(sets))
    return weigh(sets, log_prior_of_sets(sets, chance), seen, odds=table_of(ASIA, "smoke"))


def test_asia_as_printed():
    """[lauritzen1988]: visit and dyspnoea; lung .09952515, bronchitis .8114021, p(evidence) .004501375."""
    weighed = asia(visit=0)
    assert f"{weighed.of_fault[1]:.8f}" == "0.09952515"
    assert f"{weighed.of_fault[2]:.7f}" == "0.8114021"
    evidence = 0.01 * np.exp(weighed.log_evidence)  # of the visit itself: the rest is given it
    assert f"{evidence:.9f}" == "0.004501375"


def test_asia_before_anything_is_known():
    """[lauritzen1988]: tub .0104, lung .055, bronchitis .45."""
    chance = sum(share * asia(visit=visit, dyspnoea=False).of_fault for visit, share in ((0, 0.01), (1, 0.99)))
    np.testing.assert_allclose(chance, [0.0104, 0.055, 0.45], atol=1e-12)


def test_asia_whole_by_elimination():
    """The same by the general oracle, which sees the network and not its structure."""
    for k, name in enumerate(("tub", "lung", "bronc")):
        exact = joint(ASIA, [name], {"visit": 0, "dysp": 0})
        assert asia(visit=0).of_fault[k] == pytest.approx(exact[0] / exact.sum(), abs=1e-12)


# ---------------------------------------------------------------- ALARM


def alarm(above: np.ndarray) -> Weighed:
    """ALARM's two faults below heart rate and resistance.

    ALARM is not of the product's structure: between faults and readings lie other hidden variables, with 27 more above
    them. What lies above heart rate and resistance does not depend on the two faults; the oracle sums it to their joint
    law, which is then the one unknown that the readings share. The sums over sets and readings are the product's.
    """
    tables = dict(ALARM_BELOW)
    stroke = tables["STROKEVOLUME", "HYPOVOLEMIA", "LVFAILURE"]
    sets = fault_sets(2, 2)
    of_set = np.array([stroke[:, 0 if 0 in own else 1, 0 if 1 in own else 1] for own in sets.members.tolist()])
    shared = list(itertools.product(range(3), range(3)))  # heart rate, resistance
    output, cuff = tables["CO", "HR", "STROKEVOLUME"], tables["HRBP", "ERRLOWOUTPUT", "HR"]
    pressure = tables["BP", "CO", "TPR"]
    low = ALARM_EVIDENCE["CO"]
    laws = [
        np.array([of_set @ output[:, rate, :].T for rate, _ in shared]),
        np.array([np.broadcast_to(pressure[:, low, resists], (4, 3)) for _, resists in shared]),
        np.array([np.broadcast_to(cuff[:, :, rate] @ [0.05, 0.95], (4, 3)) for rate, _ in shared]),
    ]
    answers = log_answers(laws, [low, ALARM_EVIDENCE["BP"], ALARM_EVIDENCE["HRBP"]])
    prior = log_prior_of_sets(sets, list(ALARM_FAULTS.values()))
    return weigh(sets, np.broadcast_to(prior, answers.shape), answers, odds=above.ravel())


def test_alarm_as_printed():
    """[alarm]: HRBP high, CO low, BP low: HYPOVOLEMIA .554243, LVFAILURE .250033."""
    chances = alarm(ALARM_BELOW[0][1]).of_fault
    assert [f"{p:.6f}" for p in chances] == ["0.554243", "0.250033"]


def test_alarm_below_by_elimination():
    for k, name in enumerate(ALARM_FAULTS):
        exact = joint(ALARM_BELOW, [name], ALARM_EVIDENCE)
        assert alarm(ALARM_BELOW[0][1]).of_fault[k] == pytest.approx(exact[0] / exact.sum(), abs=1e-12)


def test_alarm_whole_from_the_file():
    """All 37 variables, read from the file that pgmpy carries: the same two numbers, and the table used above."""
    library = pytest.importorskip("pgmpy.readwrite", exc_type=ImportError)
    file = Path(library.__file__).parents[1] / "utils" / "example_models" / "alarm.bif.gz"
    model = library.BIFReader(string=gzip.decompress(file.read_bytes()).decode()).get_model()
    network = [(tuple(table.variables), table.values) for table in model.get_cpds()]
    assert len(network) == 37
    names = model.get_cpds("HR").state_names["HR"]
    assert names == ["LOW", "NORMAL", "HIGH"]
    for name, printed in zip(ALARM_FAULTS, ("0.554243", "0.250033"), strict=True):
        exact = joint(network, [name], ALARM_EVIDENCE)
        assert f"{exact[0] / exact.sum():.6f}" == printed
    above = joint(network, ["HR", "TPR"], {})
    np.testing.assert_allclose(ALARM_BELOW[0][1], above, rtol=2e-6)
    exact_first = joint(network, ["HYPOVOLEMIA"], ALARM_EVIDENCE)
    assert alarm(above).of_fault[0] == pytest.approx(exact_first[0] / exact_first.sum(), abs=1e-7)


# ---------------------------------------------------------------- the polybox


def test_polybox_minimal_diagnoses():
    """[dekleer1987]: three multipliers, two adders; F reads 10 where 12 is due, G 12: four minimal diagnoses.

    A broken part may put out any whole number from 0 to 20. The values and wiring are the paper's, from memory.
    """
    parts = ("M1", "M2", "M3", "A1", "A2")
    sets = fault_sets(len(parts), 3)
    chance = np.array([_polybox({parts[i] for i in own if i < len(parts)}) for own in sets.members.tolist()])
    answer = log_answers([np.stack([1.0 - chance, chance], axis=1)], [1])
    found = {frozenset(parts[i] for i in own) for own in smallest_sets(sets, np.isfinite(answer))}
    assert found == {frozenset(own) for own in ({"A1"}, {"M1"}, {"A2", "M2"}, {"M2", "M3"})}
    weighed = weigh(sets, log_prior_of_sets(sets, np.full(len(parts), 0.01)), answer)
    assert weighed.of_fault[0] == pytest.approx(weighed.of_fault[3], rel=0.02)  # M1 and A1 alone, hardly parted
    assert weighed.mass[0] == 0.0


def _polybox(broken: set[str]) -> float:
    """Chance that F reads 10 and G 12 with some parts broken."""
    any_number = np.full(21, 1.0 / 21.0)

    def part(name: str, sound: int) -> dict[int, float]:
        return dict(enumerate(any_number)) if name in broken else {sound: 1.0}

    total = 0.0
    for (x, px), (y, py), (z, pz) in itertools.product(
        part("M1", 6).items(), part("M2", 6).items(), part("M3", 6).items()
    ):
        total += px * py * pz * part("A1", x + y).get(10, 0.0) * part("A2", y + z).get(12, 0.0)
    return total


# ---------------------------------------------------------------- random networks of the same structure


class Drawn:
    """Faults with a common cause, graded answers that some of them move, and who sleeps."""

    def __init__(self, seed: int, faults: int, answers: int) -> None:
        rng = np.random.default_rng(seed)
        self.odds = rng.dirichlet(np.ones(2))
        self.chance = rng.uniform(0.01, 0.6, (2, faults))
        self.awake = np.where(rng.random(faults) < 0.5, 1.0, rng.uniform(0.05, 0.95, faults))
        self.none, self.left = [], []  # law without faults, and what each fault leaves up to each grade
        for _ in range(answers):
            grades = int(rng.integers(2, 5))
            self.none.append(rng.dirichlet(np.full(grades, 2.0)))
            kept = np.sort(rng.random((faults, grades)), axis=1)
            kept[:, -1] = 1.0
            kept[rng.random(faults) < 0.5] = 1.0  # this answer does not see that fault
            self.left.append(kept)
        self.seen = [int(rng.integers(law.size)) for law in self.none]

    def alone(self, k: int) -> np.ndarray:
        return np.diff(np.cumsum(self.none[k]) * self.left[k], axis=1, prepend=0.0)

    def of(self, k: int, there: tuple[int, ...]) -> np.ndarray:
        """Law of an answer with some faults awake, multiplied out one by one."""
        kept = np.cumsum(self.none[k])
        for fault in there:
            kept = kept * self.left[k][fault]
        return np.diff(kept, prepend=0.0)

    def weighed(self, at_most: int, seen: list[object] | None = None) -> Weighed:
        sets = fault_sets(self.chance.shape[1], at_most)
        laws = [strongest_of_set(sets, self.none[k], self.alone(k)) for k in range(len(self.none))]
        logs = while_some_sleep(sets, self.awake, log_answers(laws, self.seen if seen is None else seen))
        return weigh(sets, log_prior_of_sets(sets, self.chance), logs, odds=self.odds)

    def network(self) -> list[Table]:
        """The same, spelt out: cause, faults, who is awake, answers; state 0 of a fault is "not there"."""
        faults = range(self.chance.shape[1])
        tables: list[Table] = [(("cause",), self.odds)]
        for i in faults:
            tables.append((("cause", f"f{i}"), np.stack([1.0 - self.chance[:, i], self.chance[:, i]], axis=1)))
            tables.append(((f"f{i}", f"w{i}"), np.array([[1.0, 0.0], [1.0 - self.awake[i], self.awake[i]]])))
        for k, law in enumerate(self.none):
            moving = [i for i in faults if np.any(self.left[k][i] < 1.0)]
            table = np.empty((2,) * len(moving) + (law.size,))
            for pattern in itertools.product((0, 1), repeat=len(moving)):
                table[pattern] = self.of(k, tuple(i for i, on in zip(moving, pattern, strict=True) if on))
            tables.append(((*(f"w{i}" for i in moving), f"a{k}"), table))
        return tables

    def counted(self, at_most: int) -> list[Table]:
        """With a running count of the faults, seen to be allowed: what leaving out larger sets means."""
        tables, before = self.network(), None
        for i in range(self.chance.shape[1]):
            size = at_most + 2
            table = np.zeros((size, 2, size)) if before else np.zeros((2, size))
            for count, there in itertools.product(range(size), (0, 1)):
                if before:
                    table[count, there, min(count + there, at_most + 1)] = 1.0
                else:
                    table[there, there] = 1.0
            tables.append(((*([before] if before else []), f"f{i}", f"n{i}"), table))
            before = f"n{i}"
        allowed = np.zeros((at_most + 2, 2))
        allowed[:, 1], allowed[-1] = 1.0, [1.0, 0.0]
        return [*tables, ((str(before), "allowed"), allowed)]


SHAPES = [(seed, faults, at_most) for seed, (faults, at_most) in enumerate([(3, 3), (5, 5), (6, 2), (6, 1), (7, 3)])]


@pytest.mark.parametrize(("seed", "faults", "at_most"), SHAPES)
def test_random_networks_by_elimination(seed, faults, at_most):
    drawn = Drawn(seed, faults, 9)
    evidence = {f"a{k}": seen for k, seen in enumerate(drawn.seen)} | {"allowed": 1}
    weighed = drawn.weighed(at_most)
    for i in range(faults):
        exact = joint(drawn.counted(at_most), [f"f{i}"], evidence)
        assert weighed.of_fault[i] == pytest.approx(exact[1] / exact.sum(), abs=1e-12)
    given = joint(drawn.counted(at_most), ["cause"], {"allowed": 1}).sum()
    assert np.exp(weighed.log_evidence) == pytest.approx(exact.sum() / given, rel=1e-10)


@pytest.fixture(scope="module")
def agrum() -> ModuleType:
    return pytest.importorskip("pyagrum", exc_type=ImportError)


def in_agrum(gum: ModuleType, tables: list[Table]) -> object:
    """The network in pyAgrum; every table ends in its own variable."""
    net = gum.BayesNet()
    for names, values in tables:
        net.add(gum.RangeVariable(names[-1], "", 0, values.shape[-1] - 1))
    for names, _ in tables:
        for parent in names[:-1]:
            net.addArc(parent, names[-1])
    for names, values in tables:
        for index in itertools.product(*map(range, values.shape[:-1])):
            net.cpt(names[-1])[dict(zip(names[:-1], index, strict=True))] = values[index].tolist()
    return net


@pytest.mark.parametrize(("faults", "at_most"), [(4, 4), (6, 6), (7, 2), (8, 1), (6, 3)])
@pytest.mark.parametrize("seed", range(100, 106))
def test_random_networks_as_pyagrum_has_them(agrum: ModuleType, seed: int, faults: int, at_most: int) -> None:
    """Exact junction tree on the spelt-out network; 1e-9 on every fault, hard answers and graded ones."""
    drawn = Drawn(seed, faults, 12)
    rng = np.random.default_rng(seed)
    seen: list[object] = list(drawn.seen)
    for k in rng.choice(len(seen), 3, replace=False):
        seen[k] = rng.uniform(0.05, 1.0, drawn.none[k].size)  # "oily, I think"
    weighed = drawn.weighed(at_most, seen)
    engine = agrum.LazyPropagation(in_agrum(agrum, drawn.counted(at_most)))
    hard = {f"a{k}": value if isinstance(value, int) else list(value) for k, value in enumerate(seen)}  # type: ignore[call-overload]
    engine.setEvidence({**hard, "allowed": 1})
    engine.makeInference()
    for i in range(faults):
        assert weighed.of_fault[i] == pytest.approx(float(engine.posterior(f"f{i}")[1]), abs=1e-9)


@pytest.mark.parametrize("seed", range(200, 206))
def test_one_cause_among_many_as_pyagrum_has_it(agrum: ModuleType, seed: int) -> None:
    """One root of 40 hypotheses, 30 answers that share one unknown of 5 states: singles, nothing else."""
    rng = np.random.default_rng(seed)
    n, shared, answers = 40, 5, 30
    sets = fault_sets(n - 1, 1)
    prior, odds = rng.dirichlet(np.ones(n)), rng.dirichlet(np.ones(shared))
    laws = [rng.dirichlet(np.ones(int(rng.integers(2, 5))), size=(shared, n)) for _ in range(answers)]
    seen = [int(rng.integers(law.shape[-1])) for law in laws]
    weighed = weigh(sets, np.broadcast_to(np.log(prior), (shared, n)), log_answers(laws, seen), odds=odds)
    tables: list[Table] = [(("cause",), prior), (("unknown",), odds)]
    tables += [(("unknown", "cause", f"a{k}"), law) for k, law in enumerate(laws)]
    engine = agrum.LazyPropagation(in_agrum(agrum, tables))
    engine.setEvidence({f"a{k}": value for k, value in enumerate(seen)})
    engine.makeInference()
    np.testing.assert_allclose(weighed.mass, engine.posterior("cause").toarray(), atol=1e-9)


def test_asia_as_pyagrum_has_it(agrum: ModuleType) -> None:
    engine = agrum.LazyPropagation(in_agrum(agrum, ASIA))
    engine.setEvidence({"visit": 0, "dysp": 0})
    engine.makeInference()
    for k, name in enumerate(("tub", "lung", "bronc")):
        assert asia(visit=0).of_fault[k] == pytest.approx(float(engine.posterior(name)[0]), abs=1e-9)


# ---------------------------------------------------------------- faults that come and go


def intermittent(sets: FaultSets, passes: int, complaint: bool | None) -> float:
    """Decibans of passes in one episode with p = 0.02, p0 = 1, a = 0.3, q = 0.9, q0 = 0, the complaint's own aside."""
    laws, seen = [np.array([[1.0, 0.0], [0.02, 0.98]])] * passes, [0] * passes
    shown = np.array([[1.0, 0.0], [0.1, 0.9]])  # absent, present: never on a sound engine

    def log_one(laws: list[np.ndarray], seen: list[int]) -> float:
        return float(while_some_sleep(sets, [0.3], log_answers(laws, seen) + np.zeros(len(sets)))[1])

    said = [] if complaint is None else [int(complaint)]
    with_passes = log_one([*laws, *[shown] * len(said)], [*seen, *said])
    return float(10.0 / np.log(10.0) * (with_passes - log_one([shown] * len(said), said)))


@pytest.mark.parametrize(("complaint", "printed"), [(True, "-17.0"), (None, "-1.5"), (False, "-0.2")])
def test_the_worked_example_of_intermittents_by_summing_over_sleep(complaint, printed):
    """The design's printed example again, by the sums that the reasoner uses and not by the closed form."""
    assert f"{intermittent(fault_sets(1, 1), 1, complaint):.1f}" == printed


@pytest.mark.parametrize("passes", [1, 2, 5, 20])
def test_passes_of_one_episode_share_who_slept(passes):
    ratio = one_episode_ratio(passes, 0.3, 0.02)
    assert intermittent(fault_sets(1, 1), passes, None) == pytest.approx(10.0 * np.log10(ratio), abs=1e-9)
