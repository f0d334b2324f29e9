"""The law of a test's readings: scales on which one spread serves, and what an unlisted cause repeats."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.infer.worked import NOBODY, known_four, saw
from witnessmark.catalogue.procedures import all_procedures
from witnessmark.finding import Finding, Provenance
from witnessmark.infer.diagnose import diagnose
from witnessmark.infer.history import History
from witnessmark.infer.points import particles
from witnessmark.infer.sorting import query_of
from witnessmark.infer.sound import Sound
from witnessmark.plan.forecast import forecast
from witnessmark.plan.repeating import _is_kin
from witnessmark.plan.testlaw import scales, spreads
from witnessmark.vocabulary import Condition, Place, Query

MISFIRES = Query("misfire_count", Place.of(cylinder=1), Condition("idle"))
PRESSURE = Query("compression_peak", Place.of(cylinder=1), Condition("cranking"))
NEITHER = np.zeros(1, dtype=bool)


def sound(mean: float, absolute: float, share: float) -> Sound:
    return Sound(np.array([mean]), np.array([absolute]), np.array([share]), (), np.zeros((0, 1)), np.zeros((0, 1)))


def test_a_spread_that_grows_with_the_value_is_one_number_on_its_scale():
    """√(a² + s² x²) from its definition: the slope of the scale times it is a, wherever one looks.

    A tenth of the count by the counter itself and a half of it by the model are together 0.51 of it.
    """
    warp = scales([MISFIRES], sound(0.0, 2.0, 0.5), np.array([1000.0]), NEITHER)
    for x in (0.0, 10.0, 140.0, 1000.0):
        own = np.sqrt(2.0**2 + (0.5**2 + 0.1**2) * x**2)
        step = float(warp.there(np.array([x + 1e-4 * own]))[0] - warp.there(np.array([x]))[0])
        assert step / 1e-4 == pytest.approx(2.0, rel=0.01)
    covariance = spreads(sound(0.0, 2.0, 0.5), warp, NEITHER)
    assert np.sqrt(covariance[0, 0]) == pytest.approx(2.0, rel=1e-3)


def test_no_misfire_is_told_from_a_dead_cylinder():
    """On the counter's own scale with one spread for all, 0 ± 500 would be two spreads from 1,000."""
    warp = scales([MISFIRES], sound(0.5, 2.0, 0.5), np.array([2000.0]), NEITHER)
    none, dead = (float(warp.there(np.array([x]))[0]) for x in (0.5, 1000.0))
    assert (dead - none) / 2.0 > 6.0


def test_a_spread_that_hardly_grows_stays_one_number_on_the_readings_own_scale():
    law = sound(1100.0, 40.0, 0.03)
    warp = scales([PRESSURE], law, np.array([200.0]), NEITHER)
    assert warp.there(np.array([700.0]))[0] == 700.0
    assert np.sqrt(spreads(law, warp, NEITHER)[0, 0]) > 40.0


def test_what_misfires_take_from_the_crank_is_known_no_better_than_the_misfires():
    """A contribution of -240 ± 25 would tell 800 misfires from 900, which nobody can foretell."""
    pull = Query("contribution", Place.of(cylinder=1), Condition("idle"))
    warp = scales([pull], sound(0.0, 8.0, 0.08), np.array([300.0]), NEITHER)
    far, further = (float(warp.there(np.array([x]))[0]) for x in (-240.0, -270.0))
    assert abs(far - further) < 0.5 * warp.tolerance[0]


def test_an_unlisted_cause_shows_again_where_it_has_shown():
    """Trims of +14 % at two speeds: whatever makes them, a third speed will not read nought in four cases of five."""
    trims = [
        saw("fuel_trim", 14.0, condition=Condition("idle", complaint="present"), bank=1),
        saw("fuel_trim", 15.0, condition=Condition("raised", complaint="present", speed_rpm=2500.0), bank=1),
    ]
    post = diagnose(known_four(), trims, History(known=NOBODY)).posterior
    cloud = particles(post)
    done = [query_of(finding) for finding in post.worlds[0].findings.all]
    law = forecast(cloud, all_procedures().all, done).law("trims_at_speeds")
    again = [j for j, q in enumerate(law.queries) if q.quantity == "fuel_trim" and q.place == Place.of(bank=1)]
    assert again
    for j in again:
        assert law.mean[cloud.none_from :, j] == pytest.approx(14.5)


def test_an_unlisted_cause_shows_to_another_instrument_what_the_listed_ones_would():
    """Compression read low by gauge is read low by the starter's current, whatever the cause: no look at the cause."""
    low = [
        saw("compression_peak", kpa, condition=Condition("cranking"), cylinder=k)
        for k, kpa in enumerate((1100.0, 480.0, 1090.0, 1110.0), 1)
    ]
    post = diagnose(known_four(), low, History(known=NOBODY)).posterior
    cloud = particles(post)
    done = [query_of(finding) for finding in post.worlds[0].findings.all]
    law = forecast(cloud, all_procedures().all, done).law("current_compression")
    at = next(
        j for j, q in enumerate(law.queries) if (q.quantity, q.place.get("cylinder")) == ("relative_compression", 2)
    )
    shown = law.mean[cloud.none_from :, at]
    assert np.ptp(shown) == pytest.approx(0.0, abs=1e-9)
    sound = law.mean[cloud.parts[-1].stop, at]
    assert sound > 90.0
    assert shown[0] < sound - 10.0


def test_an_exhaust_that_was_rich_by_its_gases_is_rich_to_a_sensor_too():
    """Lambda follows from the shares of the gases, whatever made the mixture; so do the gases that were not read."""
    place, idle = Place.of(gas="CO"), Condition("idle")
    found = Finding("exhaust_gas_share", place, 3.6, 0.2, idle, Provenance("typed"))
    other = Query("exhaust_gas_share", Place.of(gas="HC"), Condition("raised"))
    sensor = Query("lambda_reported", Place.of(sensor="o2_rear_1"), Condition("raised"))
    assert _is_kin(sensor, found)
    assert _is_kin(other, found)
    assert not _is_kin(Query("relative_compression", Place.of(cylinder=1), Condition("cranking")), found)
