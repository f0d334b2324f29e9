"""Work done, its outcome, age and circumstances: factors by the catalogue's own rows and the design's rules (our
guess each)."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.infer.worked import FOUR, NOBODY, deviations, known_four, share
from witnessmark.catalogue.faults import catalogue, fault_instances
from witnessmark.errors import InputError
from witnessmark.infer.history import REPAIR, History, Work
from witnessmark.infer.posterior import posterior
from witnessmark.infer.priors import prior_of
from witnessmark.vocabulary import Place

ENGINE = known_four()
INSTANCES = {i.key: i for i in fault_instances(ENGINE)}
PLAIN = History()


def moved(key: tuple[str, str], history: History) -> float:
    """How much a history moves one prior."""
    return prior_of(INSTANCES[key], history).weight / prior_of(INSTANCES[key], PLAIN).weight


def test_nothing_known_moves_nothing():
    for instance in INSTANCES.values():
        prior = prior_of(instance, PLAIN)
        assert prior.weight == pytest.approx(instance.row.prior * instance.share)
        assert prior.moved_by == ()


def test_a_seal_before_the_complaint_points_at_the_crank_wheel():
    """Bayes' rule by counting: of wheels that slipped, one in w did so without the work and began right after it by
    chance, as everything else does; the others began right after it but for that chance. Cams and their wheels stay.
    """
    seal = History(done=(Work("work", "crank_seal", began=True),))
    factor, chance = catalogue().row("wheel_slipped").factors["w"], 0.1
    without, by_the_work = 1_000.0, 1_000.0 * (factor - 1.0)
    began_then = without * chance + by_the_work * (1.0 - chance)
    elsewhere = 1_000.0 * chance
    assert moved(("wheel_slipped", "crank"), seal) == pytest.approx(began_then / elsewhere)
    assert moved(("wheel_not_seated", "crank"), seal) >= 2.0
    assert moved(("wheel_slipped", "b1.intake"), seal) == pytest.approx(1.0)
    assert moved(("wheel_not_seated", "b1.intake"), seal) == pytest.approx(0.1)  # nobody worked there


def test_and_the_posterior_follows():
    late = deviations(-10.0, -10.0)
    seal = History(done=(Work("work", "crank_seal", began=True),))
    wheel = ("wheel_slipped", "wheel_not_seated", "wrong_wheel")
    before, after = (posterior(ENGINE, late, h) for h in (PLAIN, seal))
    assert share(after, *wheel, place="crank") > 2.0 * share(before, *wheel, place="crank")


def test_work_after_the_complaint_had_begun_clears_itself():
    later = History(done=(Work("work", "crank_seal", began=False),))
    assert moved(("wheel_not_seated", "crank"), later) == pytest.approx(0.3)
    assert moved(("wheel_slipped", "crank"), later) == pytest.approx(1.0)


@pytest.mark.parametrize(("part", "place"), [("crank_sensor", "crank"), ("cam_sensor", "b1.intake")])
def test_a_sensor_fitted_in_vain(part, place):
    """A repair that failed: what it would have cured keeps 1 - success; never zero."""
    vain = History(done=(Work("fitted", part, Place(), cured=False),))
    success = catalogue().row("position_sensor_fading").repair.success
    assert 0.0 < 1.0 - success < 0.5
    assert moved(("position_sensor_fading", place), vain) == pytest.approx(1.0 - success)
    other = "b1.exhaust" if place == "crank" else "crank"
    assert moved(("position_sensor_fading", other), vain) == pytest.approx(1.0)


def test_a_cam_sensor_fitted_in_vain_at_one_cam_says_nothing_of_the_other():
    vain = History(done=(Work("fitted", "cam_sensor", Place.of(bank=1, cam="intake"), cured=False),))
    assert moved(("position_sensor_fading", "b1.intake"), vain) < 0.1
    assert moved(("position_sensor_fading", "b1.exhaust"), vain) == pytest.approx(1.0)


def test_a_repair_of_the_answer_in_vain_is_no_longer_likely():
    """What it would have cured keeps 1 - success; the same job elsewhere stays; one part does not put a set right."""
    vain = History(done=(Work(REPAIR, "injector:cylinder_3", cured=False),))
    success = catalogue().row("injector_clogged").repair.success
    assert moved(("injector_clogged", "3"), vain) == pytest.approx(1.0 - success)
    assert moved(("injector_clogged", "2"), vain) == pytest.approx(1.0)
    assert moved(("injector_clogged", "all"), vain) == pytest.approx(1.0)
    every = History(done=(Work(REPAIR, "injector:all", cured=False),))
    assert moved(("injector_clogged", "3"), every) == moved(("injector_clogged", "all"), every) < 0.5


def test_a_repair_of_the_answer_is_no_work_before_the_complaint():
    done = History(done=(Work(REPAIR, "wheel:crank", cured=False),))
    assert not done.work_is_known
    assert moved(("wheel_slipped", "b1.intake"), done) == pytest.approx(1.0)


def test_a_part_fitted_in_one_cylinder_says_nothing_of_the_others():
    vain = History(done=(Work("fitted", "injector", Place.of(cylinder=3), cured=False),))
    assert moved(("injector_clogged", "3"), vain) < 0.5
    assert moved(("injector_clogged", "2"), vain) == pytest.approx(1.0)
    assert moved(("injector_clogged", "all"), vain) == pytest.approx(1.0)
    assert moved(("winding_open", "coil_3"), vain) == pytest.approx(1.0)  # by another part


def test_a_fresh_part_may_be_the_wrong_part():
    """Fitting never clears: fitting it wrong is ten times its row's factor likelier than where nobody worked."""
    fitted = History(done=(Work("fitted", "crank_sensor"),))
    nobody = History(known=NOBODY)
    ratio = moved(("wrong_sensor", "crank"), fitted) / moved(("wrong_sensor", "crank"), nobody)
    assert ratio == pytest.approx(10.0 * catalogue().row("wrong_sensor").factors["w"])


def test_nobody_worked_on_it():
    """Faults that only work can cause fall tenfold, all others stay."""
    nobody = History(known=NOBODY)
    for key, instance in INSTANCES.items():
        assert moved(key, nobody) == pytest.approx(0.1 if instance.row.onset == "W" else 1.0), key


@pytest.mark.parametrize(
    ("known", "letter"), [({"km": "240000"}, "k"), ({"years": "15"}, "a"), ({"oil": "neglected"}, "o")]
)
def test_age_distance_and_oil_by_the_rows_own_factors(known, letter):
    history = History(known=known)
    hit = 0
    for key, instance in INSTANCES.items():
        factor = instance.row.factors.get(letter, 1.0)
        assert moved(key, history) == pytest.approx(factor), key
        hit += factor != 1.0
    if letter != "a":  # no row of the drive need have a factor for age alone
        assert hit > 0


@pytest.mark.parametrize("known", [{"km": "80000"}, {"years": "4"}, {"oil": "good"}, {"km": "much"}])
def test_young_vehicles_and_words_that_are_no_numbers_move_nothing(known):
    assert all(moved(key, History(known=known)) == 1.0 for key in INSTANCES)


def test_circumstances_speak_for_intermittent_faults_that_show_then():
    hot = History(circumstances=frozenset({"heat"}))
    assert moved(("position_sensor_fading", "crank"), hot) == pytest.approx(2.0)  # Ih
    assert moved(("phaser_lock_worn", "b1.intake"), hot) == pytest.approx(0.5)  # LIc
    assert moved(("chain_worn", "primary"), hot) == pytest.approx(1.0)  # always there


def test_a_complaint_that_was_seen_is_not_nothing():
    seen = posterior(ENGINE, [], History(complaint_seen=True))
    unseen = posterior(ENGINE, [], PLAIN)
    odds = [np.exp(p.log_mass["nothing_wrong"] - p.log_mass["elsewhere"]) for p in (unseen, seen)]
    assert odds[1] / odds[0] == pytest.approx(0.001)


def test_an_unlisted_part_is_refused():
    with pytest.raises(InputError, match="crank_seal"):
        Work("work", "crank_saal")


def test_history_alone_is_a_belief_too():
    post = posterior(FOUR, [], History(done=(Work("work", "crank_seal", began=True),)))
    assert sum(post.probability(name) for name in post.log_mass) == pytest.approx(1.0)


def test_a_complaint_looked_for_and_not_seen_speaks_for_nothing_wrong():
    """What has no cause never shows; what comes and goes hides more easily than what stays. Common practice."""
    hidden = History(complaint_seen=False)
    fades, worn = moved(("position_sensor_fading", "crank"), hidden), moved(("chain_worn", "primary"), hidden)
    assert worn < fades < 1.0
    odds = []
    for history in (PLAIN, hidden):
        post = posterior(ENGINE, [], history)
        odds.append(np.exp(post.log_mass["nothing_wrong"] - post.log_mass["elsewhere"]))
    assert odds[1] > 1.5 * odds[0]
