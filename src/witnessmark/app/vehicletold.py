"""What a stored conversation with a vehicle told: codes, freeze frames, monitors and tests, as a case keeps them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from witnessmark.app.reported import findings_of, reported_of
from witnessmark.case.code import NO_CODE
from witnessmark.case.reported import OnBoardTest, Reported
from witnessmark.catalogue.codefiles import MONITORS
from witnessmark.decode.report import UnitReport, VehicleReport
from witnessmark.finding import Finding, Provenance
from witnessmark.measure.frozen import frozen_findings

__all__ = ["told_by", "told_findings"]


def told_by(report: VehicleReport) -> Reported:
    """Codes with their status, readiness and on-board tests, as a case keeps them.

    Parameters
    ----------
    report : VehicleReport

    Returns
    -------
    Reported
    """
    units = report.units.values()
    return reported_of(
        (
            (unit.unit, str(code.code), _status(code.status, code.cleared_s))
            for unit in units
            for code in unit.codes
            if not str(code.code).startswith(NO_CODE)
        ),
        monitors={unit.unit: list(_monitors(unit)) for unit in units},
        tests=[test for unit in units for test in _tests(unit)],
    )


def told_findings(report: VehicleReport, digest: str, name: str) -> tuple[Finding, ...]:
    """What the report is evidence of: codes, and the values frozen with them.

    Parameters
    ----------
    report : VehicleReport
    digest, name : str
        Of the file.

    Returns
    -------
    tuple of Finding
    """
    source = Provenance("recording", digest=digest, trace=name)
    codes = [_from(finding, source) for finding in findings_of(told_by(report))]
    return (*codes, *(f for unit in report.units.values() for f in _frozen(unit, source)))


def _status(told: tuple[str, ...], cleared_s: float | None) -> tuple[str, ...]:
    """What was said of a code; one that was cleared and has not come back was set, and is kept as such."""
    return told if cleared_s is None or told else ("confirmed",)


def _monitors(unit: UnitReport) -> Iterator[tuple[str, bool]]:
    if unit.monitors is not None:
        yield from ((one.name, one.complete) for one in unit.monitors.monitors if one.name in MONITORS)


def _tests(unit: UnitReport) -> Iterator[OnBoardTest]:
    for test in unit.tests:
        if test.value is not None:
            yield OnBoardTest(
                f"{test.monitor:02X}", f"{test.test:02X}", test.value, test.low, test.high, test.unit, test.words,
                unit.unit, by_hand=False,
            )  # fmt: skip


def _from(finding: Finding, source: Provenance) -> Finding:
    return replace(finding, source=replace(source, text=finding.source.text))


def _frozen(unit: UnitReport, source: Provenance) -> Iterator[Finding]:
    for frame in unit.freeze_frames:
        if frame.code is None or str(frame.code).startswith(NO_CODE):
            continue  # nobody knows what it belongs to
        values = [
            (reading.signal, float(reading.value))
            for reading in frame.readings
            if reading.signal is not None and not isinstance(reading.value, str)
        ]
        code = str(frame.code)[:5]  # without its failure type, as the condition has it
        yield from (_from(finding, source) for finding in frozen_findings(code, values))
