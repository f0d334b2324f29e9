"""Which findings are electrical, and whether so many are off that it is worth asking what they share.

Nothing is predicted here: codes speak by being set, and how far a reading is off a sound engine the main reasoner has
worked out already. So an answer with fewer than two such findings pays nothing for what they might share.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from witnessmark.catalogue.codes import codes
from witnessmark.finding import Finding
from witnessmark.infer.belief import Fit

__all__ = ["are_several_off", "is_electrical"]

_READ = (
    "branch_drop",
    "bus_errors",
    "circuit_reaches",
    "dropouts_together",
    "insulation_ohm",
    "module_answers",
    "reference_volts",
    "signal_dropouts",
    "supply_reported",
    "winding_ohm",
)
"""Quantities that are read at a node of the supply graph and follow from its state alone."""

_LOST = ("dropouts_together", "signal_dropouts", "bus_errors")  # none of them on a sound engine
_CONTACTS = ("circuit", "low", "high", "intermittent", "no_signal", "open", "shorted", "no_activity")
_SUPPLIES = ("supply_reported", "module_answers")
_OFF = 2.5  # spreads from which a reading is off: as in sharedlaw


def is_electrical(finding: Finding) -> bool:
    """Whether a finding speaks of a circuit, a supply, a signal that is lost or a unit that answers.

    Parameters
    ----------
    finding : Finding
        A reading, or a code that is set, silent, or whose monitor has run or not.

    Returns
    -------
    bool
        Codes that judge what a sensor shows, and not its circuit, are none.
    """
    if finding.quantity in _READ:
        return True
    code = codes().get(str(finding.place.get("code"))) if finding.quantity in ("code_state", "monitor_ran") else None
    if code is None:
        return False
    of_circuit = bool(code.circuit) and (code.circuit != "signal" or code.kind in _CONTACTS)
    return of_circuit or code.of == "bus" or code.quantity in _SUPPLIES


def are_several_off(findings: Sequence[Finding], fit: Callable[[], Iterable[Fit]]) -> bool:
    """Whether two electrical findings or more are off what a sound engine gives.

    Parameters
    ----------
    findings : sequence of Finding
        With ids.
    fit : callable
        Gives every measured finding against a sound engine; asked only where it matters.

    Returns
    -------
    bool
    """
    own = [finding for finding in findings if is_electrical(finding)]
    numbers = [finding for finding in own if finding.kind.kind != "yes_no" and finding.quantity not in _LOST]
    count = sum(_is_off(finding) for finding in own)
    if count >= 2 or count + len(numbers) < 2:
        return count >= 2
    far = {one.finding for one in fit() if not abs(one.z) <= _OFF}  # a reading that no sound engine has is no number
    return count + sum(finding.id in far for finding in numbers) >= 2


def _is_off(finding: Finding) -> bool:
    if finding.quantity == "code_state":
        return finding.value > 0.5
    if finding.quantity == "module_answers":
        return finding.value < 0.5
    return finding.quantity in _LOST and finding.value > _OFF * finding.sd
