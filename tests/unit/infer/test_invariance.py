"""What must not change an answer: units, order, names; and what every answer must hold."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.unit.infer.worked import FOUR, MOVED, OFF, code, deviations, exactly, known_four, saw, with_reporting
from witnessmark.engine.types import Engine
from witnessmark.infer.diagnose import diagnose
from witnessmark.infer.history import History
from witnessmark.infer.posterior import OTHERS, posterior
from witnessmark.units import convert

ENGINE = known_four()
HISTORY = History()
FINDINGS = [
    *deviations(-11.0, -8.0),
    *deviations(-10.5, -8.4, MOVED),
    code("P0016"),
    code("P0014", is_set=False),
    saw("tensioner_extension", 12.0, 0.5, OFF, chain="primary"),
    saw("mark_offset", -0.5, 0.3, OFF, mark="b1.intake"),
]


def probabilities(post):
    return {key: post.probability(key) for key in post.log_mass}


def alike(one, other, tolerance=1e-9):
    assert set(one) == set(other)
    for key, value in one.items():
        assert other[key] == pytest.approx(value, abs=tolerance), key


@given(
    st.lists(st.floats(-60.0, 60.0), min_size=2, max_size=2),
    st.booleans(),
    st.sampled_from([None, "present", "absent"]),
)
@settings(max_examples=12)
def test_probabilities_sum_to_one_whatever_is_read(values, is_set, complaint):
    findings = [replace(f, condition=replace(f.condition, complaint=complaint)) for f in deviations(*values)]
    post = posterior(ENGINE, [*findings, code("P0016", is_set=is_set)], HISTORY)
    chances = probabilities(post)
    assert sum(chances.values()) == pytest.approx(1.0, abs=1e-9)
    assert all(np.isfinite(v) and v >= 0.0 for v in chances.values())
    assert set(OTHERS) <= set(chances)
    assert post.world_mass.sum() == pytest.approx(1.0)


@pytest.mark.parametrize("findings", [[], deviations(0.0, 0.0), [code("P0335")], [saw("tdc_offset", 40.0)]])
def test_the_three_others_are_always_there(findings):
    belief = diagnose(FOUR if not findings else ENGINE, findings, HISTORY).belief
    assert {"nothing_wrong", "elsewhere", "none_of_these"} <= {h.id for h in belief.hypotheses}
    assert sum(h.probability for h in belief.hypotheses) == pytest.approx(1.0)
    assert sum(h.prior for h in belief.hypotheses) == pytest.approx(1.0)


def test_order_of_findings():
    forward = probabilities(posterior(ENGINE, FINDINGS, HISTORY))
    rng = np.random.default_rng(5)
    for _ in range(2):
        mixed = [FINDINGS[i] for i in rng.permutation(len(FINDINGS))]
        alike(forward, probabilities(posterior(ENGINE, mixed, HISTORY)), 1e-6)


def test_unit_of_a_reading():
    mm = saw("tensioner_extension", 12.7, 0.5, OFF, chain="primary")
    inches = replace(mm, value=convert(0.5, "in", "mm"))
    alike(
        probabilities(posterior(ENGINE, [*deviations(-11.0, -8.0), mm], HISTORY)),
        probabilities(posterior(ENGINE, [*deviations(-11.0, -8.0), inches], HISTORY)),
        1e-12,
    )


def test_names_of_the_banks():
    """A V engine whose banks change their numbers keeps its answer, with the numbers changed."""
    six = Engine("vee", 6, layout="vee", banks=2)
    read = {("1", "intake"): -17.5, ("1", "exhaust"): -0.3, ("2", "intake"): 0.4, ("2", "exhaust"): 0.1}

    def weighed(swap: dict[str, str]):
        findings = [saw("cam_deviation", v, 1.0, bank=int(swap[b]), cam=c) for (b, c), v in read.items()]
        return probabilities(posterior(six, findings, HISTORY))

    def renamed(key):
        if isinstance(key, str):
            return key
        return tuple(sorted((fault, _other_bank(place)) for fault, place in key))

    plain, swapped = weighed({"1": "1", "2": "2"}), weighed({"1": "2", "2": "1"})
    # A chain reaches one bank before the other: those hypotheses may differ by the few pitches between them.
    for key, value in plain.items():
        if value > 0.02:
            assert swapped.get(renamed(key), 0.0) == pytest.approx(value, rel=0.15), key


def _other_bank(place: str) -> str:
    return re.sub(r"(?<=[b_])[12]", lambda found: "21"[int(found[0]) - 1], place)


def test_a_finding_that_nothing_predicts_changes_nothing():
    plain = probabilities(posterior(ENGINE, deviations(-11.0, -8.0), HISTORY))
    more = [*deviations(-11.0, -8.0), saw("speed_measured", 800.0, 5.0)]
    alike(plain, probabilities(posterior(ENGINE, more, HISTORY)), 1e-12)


def test_more_of_the_same_reading_never_makes_the_doubtful_certain():
    """Ten copies of one typed reading share the instrument's bias: they cannot prove what one suggests."""
    engine = with_reporting(ENGINE, sign=exactly(1.0))
    one = probabilities(posterior(engine, deviations(-5.0, -5.0), HISTORY))
    ten = probabilities(posterior(engine, [f for _ in range(5) for f in deviations(-5.0, -5.0)], HISTORY))
    healthy = [p["elsewhere"] + p["nothing_wrong"] for p in (one, ten)]
    assert healthy[1] > 0.2 * healthy[0]


def test_decibans_add_up():
    belief = diagnose(ENGINE, FINDINGS, HISTORY).belief
    for weight in belief.weights:
        total = weight.prior_decibans + sum(block.decibans for block in weight.blocks)
        assert total == pytest.approx(weight.posterior_decibans, abs=1e-6)
