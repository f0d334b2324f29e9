"""Real logs whose coolant is made to rise at half the rate: the edit appears in the findings of warming up.

The logs are those of two healthy cars in the folder of recordings. Three begin cold enough to show a warm-up: two of
the first car idle from a cold start, one of the second begins on the road, three minutes after its start. What sound
engines read comes from the forward model; of the first car 1.5 L are described, of the second nothing.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest

from tests.references.scanlogs import FIRST, SECOND, edited, engine_of, unedited
from tests.unit.predict.starting_cases import spread
from witnessmark.engine.state import HEALTHY
from witnessmark.finding import Finding
from witnessmark.measure.log.measured import LogMeasurement
from witnessmark.measure.log.run import measure_log
from witnessmark.predict import DriveModel, expect
from witnessmark.vocabulary import Query

pytestmark = pytest.mark.recordings

COLD = ("idle", "live", "airmeter_e")
QUANTITIES = ("warm_up_time", "warming_rate", "temperature_reported")


def half(coolant: np.ndarray) -> np.ndarray:
    start = coolant[np.isfinite(coolant)][0]
    return start + 0.5 * (coolant - start)


@cache
def measured(folder: Path, name: str, change: bool) -> LogMeasurement:
    return measure_log(edited(folder, name, coolant=half), engine_of(name)) if change else unedited(folder, name)


def off(finding: Finding, name: str) -> float:
    """From a sound engine's, in standard deviations of both together."""
    model, query = DriveModel(engine_of(name)), Query(finding.quantity, finding.place, finding.condition)
    usual = float(expect(model, [query], HEALTHY).mean[0, 0])
    return (finding.value - usual) / float(np.hypot(finding.sd, spread(query, model)))


def of_warming(folder: Path, name: str, change: bool) -> dict[str, list[Finding]]:
    """Time, rise, and the coolant where it no longer rises with the vehicle idling."""
    found: dict[str, list[Finding]] = {quantity: [] for quantity in QUANTITIES}
    for finding in measured(folder, name, change).findings:
        warm = finding.condition.state not in ("key_on", "cranking") and finding.place.get("sensor") == "ect"
        if finding.quantity in QUANTITIES[:2] or (finding.quantity == QUANTITIES[2] and warm):
            found[finding.quantity].append(finding)
    return found


@pytest.mark.parametrize("name", [*FIRST, *SECOND])
def test_unedited_logs_are_clean(recordings: Path, name: str) -> None:
    """Inside what sound engines read nine times in ten, and no sensor called odd."""
    found = of_warming(recordings, name, change=False)
    for each in [one for many in found.values() for one in many]:
        z = off(each, name)
        print(f"{name}: {each} in {each.condition.state}: {z:+.1f} sd from a sound engine's")
        assert abs(z) < 1.645
    assert not [e for e in measured(recordings, name, False).events if "coolant" in e.signals]
    if name in COLD:
        assert len(found["warming_rate"]) == 1
    else:
        missing = {m.quantity: m.reason for m in measured(recordings, name, False).not_measured}
        assert "starts warm" in missing["warming_rate"]


@pytest.mark.parametrize("name", COLD)
def test_half_the_rate_is_half_the_rise(recordings: Path, name: str) -> None:
    """Below what sound engines do, in the stretch in which the engine warms."""
    (before,), (after,) = (of_warming(recordings, name, change)["warming_rate"] for change in (False, True))
    z = off(after, name)
    print(f"{name}: {before.value:.2f} before, {after} after, {z:+.1f} sd; {after.method}")
    assert after.value == pytest.approx(0.5 * before.value, rel=0.3)
    assert z < -1.645
    assert after.source.from_s is not None
    assert abs(after.source.from_s - before.source.from_s) < 5.0


def test_half_the_rate_never_gets_warm(recordings: Path) -> None:
    """In the log that is long enough the coolant comes to rest far too low; the shorter one says "not before"."""
    found = of_warming(recordings, "live", change=True)
    assert found["warm_up_time"][0].value == 60.0
    assert off(found["warm_up_time"][0], "live") > 3.0
    rest = found["temperature_reported"]
    assert rest
    assert all(off(one, "live") < -3.0 for one in rest)
    early = {m.quantity: m.reason for m in measured(recordings, "idle", True).not_measured}
    assert "not before 2" in early["warm_up_time"]


def test_temperatures_agree_before_a_cold_start(recordings: Path) -> None:
    for name in ("idle", "live"):
        assert any("agree within" in note for note in measured(recordings, name, False).notes)
    odd = measured_warmer(recordings, "live", 20.0)
    assert any("one of them reads wrongly" in note for note in odd.notes)


def measured_warmer(folder: Path, name: str, kelvin: float) -> LogMeasurement:
    return measure_log(edited(folder, name, intake_air=lambda v: v + kelvin), engine_of(name))
