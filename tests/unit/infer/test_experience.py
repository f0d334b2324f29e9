"""Learning from proven cases: closed forms, other people's distributions (scipy.stats), and what must never happen."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest
import tomlkit
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from witnessmark.catalogue.faultrows import SYSTEMS, catalogue
from witnessmark.catalogue.procedures import all_procedures
from witnessmark.errors import FormatError, InputError
from witnessmark.infer.experience import Experience, Guesses, Strengths, guesses_of, learn
from witnessmark.infer.outcomes import Attempt, Outcome, outcomes_from_plain, outcomes_to_plain

GUESSES = Guesses(
    {"chain_worn": 14.0, "maf_dirty": 9.0, "plenum_leak": 14.0, "two_at_once": 150.0, "none_of_these": 60.0},
    {"chain_worn": 0.95, "maf_dirty": 0.9, "plenum_leak": 0.95},
    {"repair:chain_worn": (180.0, 420.0, 840.0), "repair:maf_dirty": (5.0, 15.0, 40.0),
     "test:codes_read": (4.0, 8.0, 16.0)},
)  # fmt: skip
EMPTY = Experience(GUESSES)


def proven(case: str, *causes: str, **more: object) -> Outcome:
    return Outcome(case, str(more.pop("date", "2026-03-01")), True, causes or ("maf_dirty",), **more)  # type: ignore[arg-type]


names = st.sampled_from(["chain_worn", "maf_dirty", "plenum_leak"])
jobs = st.sampled_from(sorted(GUESSES.minutes))
outcome = st.builds(
    lambda case, day, causes, cured, spent, chances: Outcome(
        f"c{case}", f"2026-04-{day:02d}", True, tuple(causes), tuple(chances.items()),
        tuple(Attempt(*one) for one in cured), tuple(spent),
    ),
    st.integers(0, 10_000), st.integers(1, 30), st.lists(names, min_size=1, max_size=2, unique=True),
    st.lists(st.tuples(names, st.booleans()), max_size=3),
    st.lists(st.tuples(jobs, st.floats(0.5, 5000.0)), max_size=3),
    st.dictionaries(names, st.floats(0.0, 0.4), max_size=3),
)  # fmt: skip
outcomes = st.lists(outcome, max_size=8, unique_by=lambda one: one.case)


def every_number(experience: Experience) -> list[object]:
    return [
        *(experience.prior(name) for name in GUESSES.weights),
        *(experience.success(name) for name in GUESSES.success),
        *(experience.minutes(name) for name in GUESSES.minutes),
    ]


# ---------------------------------------------------------------- without cases, and closed forms


def test_without_cases_the_catalogue_stands():
    for name, weight in GUESSES.weights.items():
        assert EMPTY.prior(name).value == weight
        assert EMPTY.factor(name) == 1.0
    assert EMPTY.success("maf_dirty").value == pytest.approx(0.9)
    assert EMPTY.minutes("repair:maf_dirty").value == pytest.approx(15.0)
    assert EMPTY.prior("maf_dirty").cases == EMPTY.prior("maf_dirty").dates == ()


def test_vehicles_all_alike_give_the_dirichlet_law():
    """Closed form: (a0 share + count) / (a0 + cases), a0 the complaints all priors count as."""
    causes = ["maf_dirty"] * 5 + ["chain_worn"] * 2 + ["none_of_these"]
    experience, refused = learn(GUESSES, [proven(f"c{k}", cause) for k, cause in enumerate(causes)])
    assert not refused
    total, a0 = sum(GUESSES.weights.values()), Strengths().complaints
    for name, weight in GUESSES.weights.items():
        mean = (a0 * weight / total + causes.count(name)) / (a0 + len(causes))
        assert experience.prior(name).value / total == pytest.approx(mean)
    assert math.fsum(experience.prior(name).value for name in GUESSES.weights) == pytest.approx(total)


def test_an_old_vehicle_with_its_old_fault_teaches_less():
    """By hand: the guess is 200 · 14/247 = 11.336 cases; one found for .3 expected, or for .0567 in any vehicle."""
    n0 = 200.0 * 14.0 / 247.0
    old = EMPTY.added(proven("c1", "chain_worn", chances=(("chain_worn", 0.3),)))
    usual = EMPTY.added(proven("c1", "chain_worn"))
    assert old.factor("chain_worn") == pytest.approx((n0 + 1.0) / (n0 + 0.3))
    assert usual.factor("chain_worn") == pytest.approx((n0 + 1.0) / (n0 + 14.0 / 247.0))
    assert 1.0 < old.factor("chain_worn") < usual.factor("chain_worn")
    absent = EMPTY.added(proven("c1", "maf_dirty", chances=(("maf_dirty", 0.2),)))
    assert absent.factor("chain_worn") == 1.0  # an engine that cannot have it says nothing about it


@pytest.mark.parametrize("found", [0, 1, 7])
def test_intervals_of_a_prior_as_scipy_has_them(found):
    experience, _ = learn(GUESSES, [proven(f"c{k}", "chain_worn") for k in range(found)])
    prior = experience.prior("chain_worn")
    law = stats.gamma(prior.strength + found, scale=14.0 / (prior.strength + prior.of))
    np.testing.assert_allclose([prior.value, prior.low, prior.high], [law.mean(), law.ppf(0.05), law.ppf(0.95)])


def test_success_as_scipy_has_it():
    """9 and 1 from the guess, 3 cures and 2 failures from cases: Beta(12, 3). Other faults' repairs do not count."""
    tried = (Attempt("plenum_leak", False), Attempt("maf_dirty", False), Attempt("maf_dirty", True))
    cases = [proven("c1", attempts=tried), proven("c2", attempts=tried), proven("c3", attempts=tried[2:])]
    experience, _ = learn(GUESSES, cases)
    success = experience.success("maf_dirty")
    law = stats.beta(12.0, 3.0)
    np.testing.assert_allclose([success.value, success.low, success.high], [law.mean(), *law.ppf([0.05, 0.95])])
    assert (success.count, success.of, success.cases) == (3, 5.0, ("c1", "c2", "c3"))
    assert experience.success("plenum_leak").of == 0.0  # it was never the cause


def test_minutes_by_the_normal_gamma_law_as_scipy_has_it():
    """The posterior predictive by brute force over a fine grid of mean and precision, from the same prior."""
    spent = [22.0, 9.0, 31.0, 18.0]
    cases = [proven(f"c{k}", minutes=(("repair:maf_dirty", m),)) for k, m in enumerate(spent)]
    experience, _ = learn(GUESSES, cases)
    found = experience.minutes("repair:maf_dirty")
    alpha0, sd0 = 3.0, math.log(40.0 / 5.0) / (2.0 * stats.norm.ppf(0.9))
    precision = np.linspace(1e-3, 12.0, 600)[:, None]
    mean = np.linspace(0.5, 5.0, 700)[None, :]
    log = stats.gamma(alpha0, scale=1.0 / (alpha0 * sd0**2)).logpdf(precision)
    log = log + stats.norm(math.log(15.0), 1.0 / np.sqrt(3.0 * precision)).logpdf(mean)
    for minutes in spent:
        log = log + stats.norm(mean, 1.0 / np.sqrt(precision)).logpdf(math.log(minutes))
    weight = np.exp(log - log.max())
    weight /= weight.sum()
    for value, share in ((found.low, 0.05), (found.value, 0.5), (found.high, 0.95)):
        below = float((weight * stats.norm(mean, 1.0 / np.sqrt(precision)).cdf(math.log(value))).sum())
        assert below == pytest.approx(share, abs=1e-3)


def test_many_cases_outweigh_any_guess():
    rng = np.random.default_rng(2)
    cases = [
        proven(f"c{k}", "maf_dirty" if k < 1600 else "chain_worn",
               attempts=(Attempt("maf_dirty", bool(rng.random() < 0.6)),),
               minutes=(("repair:maf_dirty", float(rng.lognormal(math.log(50.0), 0.2))),))
        for k in range(2000)
    ]  # fmt: skip
    experience, _ = learn(GUESSES, cases)
    total = sum(experience.prior(name).value for name in GUESSES.weights)
    assert experience.prior("maf_dirty").value / total == pytest.approx(0.8, abs=0.08)
    assert experience.success("maf_dirty").value == pytest.approx(0.6, abs=0.04)
    minutes = experience.minutes("repair:maf_dirty")
    assert minutes.value == pytest.approx(50.0, rel=0.03)
    assert math.log(minutes.high / minutes.low) == pytest.approx(2.0 * 1.645 * 0.2, rel=0.1)


# ---------------------------------------------------------------- what must hold whatever happens


@settings(max_examples=60)
@given(outcomes, st.randoms(use_true_random=False))
def test_order_makes_no_difference_to_the_last_bit(found, random):
    other = list(found)
    random.shuffle(other)
    one, two = learn(GUESSES, found)[0], learn(GUESSES, other)[0]
    by_steps = EMPTY
    for each in other:
        by_steps = by_steps.added(each)
    assert one == two == by_steps
    assert every_number(one) == every_number(two) == every_number(by_steps)


@settings(max_examples=60)
@given(outcomes, outcome)
def test_what_is_taken_out_leaves_no_trace(found, extra):
    before = learn(GUESSES, [one for one in found if one.case != extra.case])[0]
    after = before.added(extra).without(extra.case)
    assert after == before
    assert every_number(after) == every_number(before)


@settings(max_examples=60)
@given(outcomes)
def test_every_number_stays_in_its_bounds(found):
    experience = learn(GUESSES, found)[0]
    for name, weight in GUESSES.weights.items():
        prior = experience.prior(name)
        assert 0.0 <= prior.low <= prior.value <= max(prior.high, prior.value)
        n0 = prior.strength
        assert weight * n0 / (n0 + prior.of) <= prior.value * (1 + 1e-12)
        assert prior.value <= weight * (n0 + prior.count) / n0 * (1 + 1e-12)
        assert prior.count == len(prior.cases)
    for name, guess in GUESSES.success.items():
        success = experience.success(name)
        share = success.count / success.of if success.of else guess
        assert min(guess, share) - 1e-12 <= success.value <= max(guess, share) + 1e-12
        assert 0.0 < success.low < success.high < 1.0
    for what in GUESSES.minutes:
        spent = [m for one in experience.outcomes for name, m in one.minutes if name == what]
        minutes = experience.minutes(what)
        assert min([minutes.guess, *spent]) * (1 - 1e-9) <= minutes.value <= max([minutes.guess, *spent]) * (1 + 1e-9)
        assert 0.0 < minutes.low < minutes.value < minutes.high
        assert minutes.count == len(spent)


@settings(max_examples=40)
@given(outcomes)
def test_a_file_gives_back_what_was_put_in(found):
    plain = outcomes_to_plain(found)
    kept = tuple(sorted(found, key=lambda one: (one.date, one.case)))
    assert outcomes_from_plain(json.loads(json.dumps(plain))) == kept
    assert outcomes_from_plain(tomlkit.parse(tomlkit.dumps(plain)).unwrap()) == kept


# ---------------------------------------------------------------- provenance, and what is refused


def test_every_number_says_where_it_comes_from():
    cases = [proven("c2", date="2026-05-02"), proven("c1", date="2026-01-31"), proven("c3", "chain_worn", "maf_dirty")]
    experience, _ = learn(GUESSES, cases)
    prior = experience.prior("maf_dirty")
    assert (prior.guess, prior.count, prior.cases) == (9.0, 3, ("c1", "c3", "c2"))
    assert prior.dates == ("2026-01-31", "2026-05-02")
    assert prior.of == pytest.approx(3.0 * 9.0 / 247.0)
    assert experience.prior("two_at_once").cases == ("c3",)


def test_an_unproven_case_teaches_nothing_and_says_so():
    unproven = Outcome("c9", "2026-02-02", False, ("maf_dirty",), minutes=(("repair:maf_dirty", 90.0),))
    with pytest.raises(InputError, match=r"case 'c9': it is not proven, so it teaches nothing. Measure the same"):
        EMPTY.added(unproven)
    experience, refused = learn(GUESSES, [unproven, proven("c1")])
    assert experience == EMPTY.added(proven("c1"))
    assert [(one.case, "not proven" in one.reason) for one in refused] == [("c9", True)]


def test_a_case_counts_once():
    with pytest.raises(InputError, match="it counts already"):
        EMPTY.added(proven("c1")).added(proven("c1", "chain_worn"))
    one, two = proven("c1"), proven("c1", "chain_worn")
    assert learn(GUESSES, [one, two])[0] == learn(GUESSES, [two, one])[0]
    with pytest.raises(InputError, match="not among the cases that count"):
        EMPTY.without("c1")


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        (proven("c1", "maf_dirt"), "maf_dirty"),
        (proven("c1", attempts=(Attempt("chain_wrn", True),)), "chain_worn"),
        (proven("c1", minutes=(("repair:maf", 3.0),)), "repair:maf_dirty"),
        (proven("c1", chances=(("plenum_leek", 0.1),)), "plenum_leak"),
    ],
)
def test_what_the_catalogue_does_not_have_is_named_with_the_nearest(wrong, said):
    with pytest.raises(InputError, match=said):
        EMPTY.added(wrong)


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"case": " "}, "needs the id"),
        ({"date": "1 March"}, "no date"),
        ({"causes": ()}, "names no cause"),
        ({"causes": ("maf_dirty", "maf_dirty")}, "twice"),
        ({"chances": (("maf_dirty", 1.2),)}, "0 to 1"),
        ({"minutes": (("repair:maf_dirty", -3.0),)}, "minutes"),
        ({"minutes": (("repair:maf_dirty", float("nan")),)}, "minutes"),
    ],
)
def test_an_outcome_that_cannot_be(fields, said):
    with pytest.raises(InputError, match=said):
        Outcome(**{"case": "c1", "date": "2026-03-01", "proven": True, "causes": ("maf_dirty",), **fields})  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("plain", "said"),
    [
        ({}, "no file of outcomes"),
        ({"outcome": {}}, "no list"),
        ({"outcome": [3]}, "outcome 1: 3 is no part"),
        ({"outcome": [{"case": "c1", "date": "2026-03-01"}]}, "outcome 1: proven is missing"),
        ({"outcome": [{"case": "c1", "date": "2026-03-01", "proven": "yes"}]}, "wrong kind"),
        ({"outcome": [{"case": "c1", "date": "2026-03-01", "proven": True, "causes": 3}]}, "wrong kind"),
        (
            {"outcome": [{"case": "c1", "date": "never", "proven": True, "causes": ["x"]}]},
            "outcome 1, case 'c1': .*date",
        ),
        ({"outcome": [{"case": "c1", "date": "2026-03-01", "proven": True, "cause": ["x"]}]}, "cause is no part"),
    ],
)
def test_a_file_that_is_not_as_it_should_be(plain, said):
    whole = plain if not plain else {"schema": "witnessmark/experience/1", **plain}
    with pytest.raises(FormatError if "date" not in said else InputError, match=said):
        outcomes_from_plain(whole, "experience.toml")


def test_the_whole_catalogue_can_learn():
    guesses = guesses_of(catalogue(SYSTEMS), all_procedures())
    assert {"chain_worn", "plenum_leak", "nothing_wrong", "two_at_once"} <= set(guesses.weights)
    assert "not_modelled" not in guesses.weights
    assert guesses.minutes["test:codes_read"][1] == 8.0
    experience = Experience(guesses).added(proven("c1", "plenum_leak", minutes=(("test:codes_read", 12.0),)))
    assert experience.factor("plenum_leak") > 1.0 > experience.factor("chain_worn")
