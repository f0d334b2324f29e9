"""Networks small enough to solve by hand: the catalogue cut down to a row or two, the answer worked out beside it."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import norm

from tests.unit.infer.worked import IDLE, NOBODY, OFF, known_four, only_faults, saw, share
from witnessmark.catalogue.faults import catalogue
from witnessmark.infer.evidence import INSTRUMENT_BIAS, OUTLIER, SCALE_ODDS, SCALES, WIDE
from witnessmark.infer.history import History
from witnessmark.infer.posterior import posterior
from witnessmark.infer.unlisted import unlisted_share

OTHERS = catalogue().others
SOUND = OTHERS["elsewhere"]


def priors(weights: dict[str, float], unseen: float = 0.0) -> dict[str, float]:
    """Prior odds by the rule of the catalogue: two at once falls on this list, one of it, or neither, by weight."""
    listed, rest = sum(weights.values()), SOUND + unseen
    mine = listed / (listed + rest)
    two = OTHERS["two_at_once"]
    lift = 1.0 + two * 2.0 * mine * (1.0 - mine) / listed
    none = OTHERS["none_of_these"]
    found = {name: weight * lift for name, weight in weights.items()}
    found["none_of_these"] = none * unlisted_share(listed, rest)
    found["elsewhere"] = rest + two * (1.0 - mine) ** 2 + none - found["none_of_these"]
    found["nothing_wrong"] = OTHERS["nothing_wrong"]
    return found


def test_one_answer_and_two_wrong_wheels():
    """The number on the exhaust cam's wheel is not on the list: wrong wheel there, or misread (3 %)."""
    engine = known_four()
    finding = saw("part_identity", 0.0, 0.03, OFF, part="wheel:b1.exhaust")
    with only_faults("wrong_wheel"):
        post = posterior(engine, [finding], History())
    each = catalogue().row("wrong_wheel").prior / 3.0  # three wheels, even shares
    prior = priors({"exhaust": each}, unseen=2.0 * each)  # nothing read would show the other two: they are elsewhere
    read_no = {True: 0.95 * 0.97 + 0.05 * 0.03, False: 0.03 * 0.97 + 0.97 * 0.03}  # foreign 5 %, own 97 % on the list
    mass = {"exhaust": prior["exhaust"] * read_no[True]}
    mass |= {name: prior[name] * read_no[False] for name in ("elsewhere", "nothing_wrong")}
    mass["none_of_these"] = prior["none_of_these"] * 0.15  # as it should be in 85 %
    total = sum(mass.values())
    assert share(post, "wrong_wheel", place="b1.exhaust") == pytest.approx(mass["exhaust"] / total, rel=1e-6)
    assert post.probability("elsewhere") == pytest.approx(mass["elsewhere"] / total, rel=1e-6)


@pytest.mark.parametrize("value", [0.5, 8.0, -22.0, 55.0])
def test_one_reading_of_the_crank_wheel_and_its_slip(value):
    """One number, one continuous severity: the evidence is an integral that SciPy does by itself."""
    engine = known_four()
    with only_faults("wheel_slipped"):
        post = posterior(engine, [saw("wheel_angle_seen", value, 0.7, OFF, wheel="crank")], History())

    def density(mean: float) -> float:
        total = 0.0
        for scale, odds in zip(SCALES, SCALE_ODDS, strict=True):
            # Healthy wheels stand at 0 ± 0.5 (catalogue, state vector), the nominal fits within 0.3.
            variance = 0.5**2 + 0.3**2 + (INSTRUMENT_BIAS * 0.7) ** 2 + (scale * 0.7) ** 2
            clean = norm.pdf(value, mean, variance**0.5)
            misread = norm.pdf(value, mean, (variance + WIDE["deg"] ** 2) ** 0.5)
            total += odds * ((1.0 - OUTLIER["typed"]) * clean + OUTLIER["typed"] * misread)
        return total

    def severity(sign: float) -> float:
        near = [np.log(s) for s in np.clip(abs(value) + np.array([-3.0, 0.0, 3.0]), 3.0, 60.0)]
        log_low, log_high = np.log(3.0), np.log(60.0)  # log-uniform from 3 to 60 degrees, either sign
        part, _ = quad(lambda x: density(sign * np.exp(x)), log_low, log_high, points=near, limit=400)
        return part / (log_high - log_low)

    slipped = 0.5 * (severity(1.0) + severity(-1.0))
    key = (("wheel_slipped", "crank"),)
    assert post.log_mass[key] - post.log_prior[key] == pytest.approx(np.log(slipped), abs=0.01)
    sound = post.log_mass["elsewhere"] - post.log_prior["elsewhere"]
    assert sound == pytest.approx(np.log(density(0.0)), abs=1e-6)


def test_priors_of_a_list_of_two():
    """No findings: the posterior is the prior, worked out from the catalogue's counts per 1,000."""
    engine = known_four()
    with only_faults("chain_worn", "drive_broken"):
        post = posterior(engine, [], History(known=NOBODY))
    weights = {name: catalogue().row(name).prior for name in ("chain_worn", "drive_broken")}
    prior = priors(weights)
    total = sum(prior.values())  # two at once are laid out where there are readings to part them
    assert share(post, "chain_worn") == pytest.approx(prior["chain_worn"] / total, rel=2e-3)
    assert post.probability("nothing_wrong") == pytest.approx(prior["nothing_wrong"] / total, rel=2e-3)


def test_a_repair_that_failed_leaves_one_minus_its_success():
    from witnessmark.infer.history import Work

    engine = known_four()
    done = History(done=(Work("fitted", "timing_chain", cured=False),))
    finding = [saw("cam_deviation", -9.0, 1.0, IDLE, bank=1, cam="intake")]
    with only_faults("chain_worn", "wheel_slipped"):
        before = posterior(engine, finding, History(known=NOBODY))
        after = posterior(engine, finding, done)
    chain = (("chain_worn", "primary"),)
    odds = [np.exp(p.log_mass[chain] - p.log_mass[(("wheel_slipped", "b1.intake"),)]) for p in (before, after)]
    # 95 % of such repairs cure; a slipped wheel near that work is likelier by its factor 3.
    assert odds[1] / odds[0] == pytest.approx(0.05 / 3.0, rel=1e-6)
