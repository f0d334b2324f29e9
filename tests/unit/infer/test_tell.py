"""What single findings tell, against the same worked out by hand with SciPy's normal law."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from tests.unit.infer.worked import FOUR, NOBODY, code, saw
from witnessmark.infer import tell
from witnessmark.infer.belief import Tell
from witnessmark.infer.components import Key
from witnessmark.infer.diagnose import Diagnosis, diagnose
from witnessmark.infer.evidence import INSTRUMENT_BIAS, OUTLIER, Evidence
from witnessmark.infer.history import History
from witnessmark.infer.posterior import Posterior


@pytest.fixture(scope="module")
def answer() -> Diagnosis:
    findings = [saw("fuel_trim", 19.0, bank=1), saw("charging_volts", 14.1, battery="battery"), code("P0171")]
    return diagnose(FOUR, findings, History(known=NOBODY))


def test_every_finding_is_told_under_every_hypothesis_that_is(answer: Diagnosis) -> None:
    told = {(tell.hypothesis, tell.finding) for tell in answer.belief.tells}
    names = {hypothesis for hypothesis, _ in told}
    assert told == {(name, finding) for name in names for finding in ("f1", "f2", "f3")}
    assert {answer.belief.weights[0].leader, "nothing_wrong", *answer.belief.ruled_out} <= names


def test_a_reading_by_itself_has_its_normal_and_its_wide_law() -> None:
    finding = saw("charging_volts", 14.9, 0.1, battery="battery")
    law = Evidence([finding], np.array([0.3]), np.array([[0.04]]))
    sd = np.sqrt(0.3**2 + 0.04 + (1.0 + INSTRUMENT_BIAS**2) * 0.1**2)
    wide = np.hypot(sd, law.wide[0])
    odds = OUTLIER["typed"]
    exact = np.log((1.0 - odds) * norm.pdf(0.9, scale=sd) + odds * norm.pdf(0.9, scale=wide))
    assert law.log_alone(np.array([[14.0]]))[0, 0] == pytest.approx(exact, abs=1e-9)


def test_the_sound_vehicle_is_told_as_predicted(answer: Diagnosis) -> None:
    """A trim is learnt about nought (common practice, no source), and a sound engine hardly sets a code."""
    sound = {tell.finding: tell for tell in answer.belief.tells if tell.hypothesis == "nothing_wrong"}
    assert abs(sound["f1"].expected) < 1.0
    assert 2.0 < sound["f1"].sd < 10.0
    assert sound["f3"].is_chance
    assert sound["f3"].expected < 0.1
    assert not sound["f1"].is_chance


def test_the_leader_expects_what_its_fit_says(answer: Diagnosis) -> None:
    """The same numbers by another way: the fit takes all points of the posterior, a telling the heaviest."""
    leader = answer.belief.weights[0].leader
    tells = {tell.finding: tell for tell in answer.belief.tells if tell.hypothesis == leader}
    for fit in answer.belief.fit:
        assert tells[fit.finding].expected == pytest.approx(fit.expected, abs=0.35 * fit.sd)
        assert tells[fit.finding].sd == pytest.approx(fit.sd, rel=0.35)


def test_a_finding_that_only_one_of_the_engines_weighs(answer: Diagnosis, monkeypatch: pytest.MonkeyPatch) -> None:
    """The sound vehicle and the leader may stand on an engine that has no such reading: it is compared with nothing."""
    whole = tell._tells

    def without_the_first(post: Posterior, name: Key | str, label: str) -> list[Tell]:
        return whole(post, name, label)[name in ("nothing_wrong", answer.keys[0]) :]

    monkeypatch.setattr(tell, "_tells", without_the_first)
    assert set(tell.ruled_out(answer.posterior, answer.keys)) <= set(answer.keys)


def test_what_is_ruled_out_was_suggested_by_one_finding_and_refused_by_another(answer: Diagnosis) -> None:
    density = {(tell.hypothesis, tell.finding): tell.log_density for tell in answer.belief.tells}
    leader = answer.belief.weights[0].leader
    for name in answer.belief.ruled_out:
        assert answer.belief.hypothesis(name).probability <= 0.02
        found = ("f1", "f2", "f3")
        assert any(density[name, f] - density["nothing_wrong", f] >= np.log(2.0) for f in found)
        assert any(density[leader, f] - density[name, f] >= np.log(2.0) for f in found)


def test_a_code_is_told_with_the_law_that_it_is_weighed_by() -> None:
    """A code that was read is seldom made up: its odds are those of the posterior, by the same two hypotheses."""
    alone = diagnose(FOUR, [code("P0171")], History(known=NOBODY))
    post, told = alone.posterior, {tell.hypothesis: tell for tell in alone.belief.tells}
    assert told["nothing_wrong"].log_density == pytest.approx(
        post.log_mass["nothing_wrong"] - post.log_prior["nothing_wrong"], abs=1e-6
    )
