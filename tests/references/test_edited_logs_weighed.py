"""Real logs, weighed with nothing told but four cylinders: healthy ones name no fault, edited ones the right one first.

The edits are those of ``test_edited_logs`` and ``test_edited_warming``, whose findings are held against the forward
model there. Which cause an edit stands for follows from what it does: the reason stands beside it. The two cars are
those of the folder of recordings; nothing is known to be wrong with either.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from tests.references.scanlogs import FIRST, SECOND, edited, scan_log
from tests.references.test_edited_logs import running_at, with_rows
from tests.references.test_edited_warming import half
from witnessmark.engine.types import Engine
from witnessmark.infer.belief import Belief
from witnessmark.infer.diagnose import diagnose
from witnessmark.infer.history import History
from witnessmark.measure.log.run import measure_log
from witnessmark.recording.types import Recording

pytestmark = pytest.mark.recordings

FOUR = Engine("four cylinders", 4)
NO_FAULT = {"nothing_wrong", "elsewhere", "none_of_these"}


def weighed(recording: Recording) -> Belief:
    return diagnose(FOUR, measure_log(recording, FOUR).findings, History()).belief


def leading(belief: Belief) -> set[str]:
    """Causes that the likeliest repair cures: "fault@place"."""
    every = (belief.hypothesis(name) for name in belief.groups[0].hypotheses)
    return {f"{one.faults[0].fault}@{one.faults[0].place[0][1]}" for one in every if len(one.faults) == 1}


@pytest.mark.parametrize("name", FIRST + SECOND)
def test_a_healthy_log_names_no_fault(recordings: Path, name: str) -> None:
    belief = weighed(scan_log(recordings, name))
    assert belief.verdict.kind != "cause"
    assert max(belief.hypotheses, key=lambda one: one.probability).id in NO_FAULT
    assert belief.groups[0].probability < 0.1


def pressure_up(folder: Path, name: str) -> Recording:
    return edited(folder, name, map=lambda values: values + 12.0)


def meter_low(folder: Path, name: str) -> Recording:
    change: dict[str, object] = {"maf": lambda v: 0.85 * v, "short_trim__bank_1": lambda v: v + 17.0}
    return edited(folder, name, **change)


def trim_up(folder: Path, name: str) -> Recording:
    return edited(folder, name, short_trim__bank_1=lambda values: values + 12.0)


def warms_slowly(folder: Path, name: str) -> Recording:
    return edited(folder, name, coolant=half)


def frozen(folder: Path, name: str) -> Recording:
    whole = scan_log(folder, name)
    begin = running_at(whole, 0.45)
    return with_rows(whole, "map", hold=lambda times: (times >= begin) & (times <= begin + 60.0))


def lost_together(folder: Path, name: str) -> Recording:
    found = scan_log(folder, name)
    begins = [running_at(found, share) for share in (0.3, 0.7)]
    for role in ("map", "throttle"):
        found = with_rows(
            found, role, keep=lambda times: ~np.any([(times >= one) & (times <= one + 10.0) for one in begins], axis=0)
        )
    return found


# A trim that is up at every flow, air and pressure as they were: the fuel, its pressure, what injects it, or the sensor
# that the trim follows. No leak: its share fades with flow. No meter on the first car.
FUEL = (
    "(fuel_.*|ethanol_unexpected|regulator_.*|lift_pump_.*|injector_.*|front_o2_.*|not_relearnt|diesel_.*|water_.*)@.*"
)
_NO_LITRES = (
    "no key-on in this log, and with four cylinders told and no litres nothing holds pressure or air flow against each "
    "other: the reading counts as another engine's"
)
_NOT_MOVED = (
    "what happened to signals in a log (standstills, losses together) moves no cause when four cylinders are told"
)


def fails(why: str) -> pytest.MarkDecorator:
    return pytest.mark.xfail(strict=True, reason=why)


EDITS = [
    # The engine stands, and pressure is 113 kPa where the barometer is 101: the sensor.
    pytest.param(pressure_up, "idle", "(map_offset|wrong_sensor)@map"),
    pytest.param(pressure_up, "airmeter_c", "(map_offset|wrong_sensor)@map", marks=fails(_NO_LITRES)),
    # Less flow than pressure tells, and a trim that makes up for it at every flow: the meter.
    pytest.param(meter_low, "airmeter_a", "(maf_dirty|wrong_sensor|filter.*)@maf", marks=fails(_NO_LITRES)),
    pytest.param(meter_low, "airmeter_d", "(maf_dirty|wrong_sensor|filter.*)@maf", marks=fails(_NO_LITRES)),
    pytest.param(trim_up, "live", FUEL),
    pytest.param(trim_up, "airmeter_d", FUEL),
    # Half the rise for the heat it was given: a thermostat that does not shut, or the sensor.
    pytest.param(warms_slowly, "idle", "(thermostat_open@engine|temperature_wrong@ect)"),
    # One signal stands still, or two are lost at the same moments: its own wires; what both hang on.
    pytest.param(frozen, "live", ".*@map", marks=fails(_NOT_MOVED)),
    pytest.param(lost_together, "live", ".*@(map|throttle_sensor|ref_.*|sensor_ground|ecu)", marks=fails(_NOT_MOVED)),
]


@pytest.mark.parametrize(("edit", "name", "right"), EDITS)
def test_an_edited_log_has_the_right_cause_first(
    recordings: Path, edit: Callable[[Path, str], Recording], name: str, right: str
) -> None:
    found = leading(weighed(edit(recordings, name)))
    assert [cause for cause in found if re.fullmatch(right, cause)], found
