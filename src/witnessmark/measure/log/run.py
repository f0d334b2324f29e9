"""From the recording of a log to everything it gives: states first, then each part in turn.

Values that were lost, or stood still while they must move, are events; no mean is taken over them.
"""

from __future__ import annotations

from collections.abc import Callable

from witnessmark.engine.types import Engine
from witnessmark.measure.log.air import air
from witnessmark.measure.log.airpressure import air_pressures
from witnessmark.measure.log.events import events, without_lost
from witnessmark.measure.log.habit import fresh_only
from witnessmark.measure.log.heat import heat
from witnessmark.measure.log.measured import LogMeasurement, LogPart
from witnessmark.measure.log.meter import meter_against_pressure
from witnessmark.measure.log.misfires import misfires
from witnessmark.measure.log.oxygen import oxygen
from witnessmark.measure.log.phasing import cams
from witnessmark.measure.log.pressures import pressures
from witnessmark.measure.log.series import Log, log_of
from witnessmark.measure.log.spans import StateSpan
from witnessmark.measure.log.states import find_states
from witnessmark.measure.log.trims import trims
from witnessmark.measure.log.voltage import voltage
from witnessmark.recording.types import Recording

__all__ = ["PARTS", "Part", "measure_log"]

Part = Callable[[Log, tuple[StateSpan, ...], Engine | None], LogPart]

PARTS: tuple[Part, ...] = (
    air,
    meter_against_pressure,
    air_pressures,
    trims,
    cams,
    misfires,
    heat,
    oxygen,
    pressures,
    voltage,
    events,
)
"""What is measured, in the order it is told: each takes a log, its states and, where there is one, the description."""


def measure_log(recording: Recording, engine: Engine | None = None) -> LogMeasurement:
    """Everything that a recording of logged parameters gives.

    Parameters
    ----------
    recording : Recording
        Its traces carry parameters of the closed list as their roles.
    engine : Engine, optional
        Only places and displacement are taken from it; nothing is compared with it here.

    Returns
    -------
    LogMeasurement
        Findings without names yet, in the order of the parts.

    Raises
    ------
    InputError
        For a role that names a parameter wrongly.
    """
    log = log_of(recording)
    sound = fresh_only(without_lost(log))
    found = find_states(sound, engine)
    parts = [part(log if part is events else sound, found.spans, engine) for part in PARTS]
    return LogMeasurement(
        log,
        found.spans,
        tuple(finding for part in parts for finding in part.findings),
        tuple(missing for part in parts for missing in part.not_measured),
        tuple(sorted((event for part in parts for event in part.events), key=lambda event: event.from_s)),
        (*found.notes, *(note for part in parts for note in part.notes)),
    )
