"""Codes and readings see one and the same engine (measured against the reference posterior of the benchmarks)."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.infer.worked import code, deviations, exactly, known_four, with_reporting
from witnessmark.engine.library import find_engine
from witnessmark.engine.state import HEALTHY
from witnessmark.infer.history import History
from witnessmark.infer.posterior import posterior
from witnessmark.predict import DriveModel
from witnessmark.predict.codes import code_chance, felt_key

ENGINE = with_reporting(known_four(), correlation_limit_deg=exactly(5.0))


def evidence(findings, name="elsewhere"):
    post = posterior(ENGINE, findings, History())
    return post.log_mass[name] - post.log_prior[name]


def test_a_code_that_the_readings_already_explain_costs_a_sound_drive_little():
    """Both cams read 7 late on a limit of 5: whatever made them so, the codes follow, also on a sound drive's tail."""
    read = deviations(-7.5, -7.0)
    alone = evidence(read)
    with_codes = evidence([*read, code("P0016"), code("P0017")])
    blind = 2.0 * np.log(0.005)  # what two false alarms would cost
    assert with_codes - alone > 0.5 * blind


def test_a_code_against_readings_that_are_as_they_should_be_is_a_false_alarm():
    read = deviations(-0.5, -0.3)
    cost = evidence([*read, code("P0016")]) - evidence(read)
    # Set for no physical reason (one in 200), or read though it is not set (a fiftieth of the chance to overlook one).
    assert cost == pytest.approx(np.log(0.005 * 0.98 + 0.995 * 0.0004), abs=0.7)


def test_an_odd_reading_does_not_drag_the_monitor_along():
    """A typing error of 60 degrees tells nothing of the cam: the code beside it stays a false alarm."""
    read = deviations(-60.0, -0.3)
    told = evidence([*read, code("P0016")]) - evidence(read)
    assert told < -2.0


def test_what_is_felt_of_one_cam_shifts_its_own_monitor_only():
    model = DriveModel.of(find_engine("made-up four"))
    felt = {felt_key("b1.intake"): 14.0}
    own, other = (code_chance(model, name, HEALTHY, felt, 1)[0, 0] for name in ("P0016", "P0017"))
    assert own > 0.8
    assert other < 0.05


def test_codes_of_every_system_are_weighed():
    """Lean mixture beside a late cam: what leans a mixture gains by it, and the cam keeps what its reading gives it."""
    read = [*deviations(-17.0, -0.3), code("P0016")]
    alone = posterior(ENGINE, read, History())
    beside = posterior(ENGINE, [*read, code("P0171")], History())
    leaning = {
        key for key in beside.log_mass if not isinstance(key, str) and any(part[0] == "plenum_leak" for part in key)
    }
    assert leaning
    before = alone.log_mass["elsewhere"] - alone.log_total
    assert max(beside.log_mass[key] for key in leaning) - beside.log_total > before - 12.0
    first_cause = max((key for key in beside.log_mass if not isinstance(key, str)), key=lambda k: beside.log_mass[k])
    assert any(part[1].endswith("intake") for part in first_cause)
