"""What a sound engine would show where a log shows something, under the circumstances that the log tells itself."""

from __future__ import annotations

from witnessmark.app.engines import likeliest
from witnessmark.engine.types import Engine
from witnessmark.finding import Finding
from witnessmark.measure.log.measured import LogMeasurement
from witnessmark.measure.log.meter import displacement_in
from witnessmark.measure.log.series import Log
from witnessmark.report.logcurves import Expected
from witnessmark.vocabulary import Query

__all__ = ["expected_in"]

_BAROMETER_KPA, _INTAKE_K = 0.5, 5.0  # how well a log's mean tells the air outside; common practice, no source


def expected_in(measured: LogMeasurement, engine: Engine) -> tuple[Expected, ...]:
    """What a sound engine of this kind would show for each finding of a log that can be predicted.

    Parameters
    ----------
    measured : LogMeasurement
    engine : Engine
        As far as described; displacement that is not described is taken from air meter and manifold pressure, where the
        log has both.

    Returns
    -------
    tuple of Expected
    """
    from witnessmark.predict.loggedband import logged_bands
    from witnessmark.predict.model import DriveModel

    asked = {f: Query(f.quantity, f.place, f.condition) for f in measured.findings if _is_held(f)}
    if not asked:
        return ()
    model = DriveModel.of(likeliest(engine).engine)
    bands = logged_bands(model, list(asked.values()), _told(measured, engine))
    return tuple(
        Expected(f.quantity, f.place, f.condition.state or "", bands[query].mid, bands[query].sd)
        for f, query in asked.items()
        if query in bands
    )


def _is_held(finding: Finding) -> bool:
    """Whether a sound engine's reading can be told without leaning on this very one.

    The weather is taken from intake air itself, and before the start the coolant is as warm as it happens to be.
    """
    state, sensor = finding.condition.state, finding.place.get("sensor")
    if finding.quantity == "temperature_reported" and (sensor == "iat" or state in ("off", "key_on", "cranking")):
        return False
    return state is not None and finding.kind.kind == "number" and finding.condition.freeze is None


def _told(measured: LogMeasurement, engine: Engine) -> dict[str, tuple[float, float]]:
    from witnessmark.predict.loggedband import told_by_log

    log = measured.log
    ambient, intake = _mean(log, "barometer"), _mean(log, "intake_air")
    open_size = not engine.breathing.cylinder.displacement_l.is_known
    size = displacement_in(log, measured.states) if open_size else None
    return told_by_log(
        ambient_kpa=(ambient, _BAROMETER_KPA) if ambient is not None else None,
        intake_c=(intake, _INTAKE_K) if intake is not None else None,
        displacement_l=(1e3 * size.value, 1e3 * size.sd) if size is not None else None,
        outside_c=_mean(log, "outside_air"),
    )


def _mean(log: Log, id: str) -> float | None:
    series = log.get(id)
    return float(series.values.mean()) if series is not None else None
