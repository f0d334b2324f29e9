"""What the vehicle's computers reported: codes with their status, which monitors have run, on-board tests."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = [
    "NOTHING_REPORTED",
    "READINESS",
    "SET_BY",
    "STATUSES",
    "MonitorState",
    "OnBoardTest",
    "Reported",
    "ReportedCode",
]

STATUSES = (
    "confirmed",
    "pending",
    "permanent",
    "failed",
    "failed_this_cycle",
    "failed_since_clear",
    "not_completed_this_cycle",
    "not_completed_since_clear",
    "lamp",
)
"""What may be said of a code: lists of services 03, 07 and 0A (SAE J1979), and bits of its status (ISO 14229)."""

SET_BY = ("confirmed", "pending", "permanent", "failed", "failed_this_cycle", "failed_since_clear")
"""Words of a status any of which means that the limit was crossed, now or since codes were cleared."""

READINESS = ("complete", "incomplete", "unsupported")
"""What may be said of a monitor."""


@dataclass(frozen=True, slots=True)
class ReportedCode:
    """One code as a computer reported it, and what it means as far as anybody here knows.

    Parameters
    ----------
    code : str
        "P0016".
    is_set : bool
        False: it was looked for, and is not set.
    status : tuple of str
        Of :data:`STATUSES`; empty where nothing was said.
    monitor_ran : bool, optional
        Whether its monitor had its chance; None where nobody knows.
    failure_type : str
        The third byte, as two hexadecimal digits; empty where there is none.
    unit : str
        Which computer, as it was written.
    words, whose, shop : str
        As :class:`witnessmark.catalogue.codes.Meaning` has them, at the time of the answer.
    derived : bool
        True where nobody wrote it: its monitor has run and it was not among the codes.
    """

    code: str
    is_set: bool = True
    status: tuple[str, ...] = ()
    monitor_ran: bool | None = None
    failure_type: str = ""
    unit: str = ""
    words: str = ""
    whose: str = ""
    shop: str = ""
    derived: bool = False


@dataclass(frozen=True, slots=True)
class MonitorState:
    """Whether a group of monitors has run since codes were cleared.

    Parameters
    ----------
    monitor : str
        One of :data:`witnessmark.catalogue.codefiles.MONITORS`.
    state : str
        One of :data:`READINESS`.
    unit : str
        Which computer.
    """

    monitor: str
    state: str
    unit: str = ""


@dataclass(frozen=True, slots=True)
class OnBoardTest:
    """One result of a monitor, with its limits (SAE J1979, service 06).

    Parameters
    ----------
    monitor, test : str
        Numbers as the standard writes them, hexadecimal: "A2", "0B"; or words.
    value : float
    low, high : float, optional
        Allowed from, allowed to.
    measured_in : str
        Unit of the three.
    words : str
        What it is.
    unit : str
        Which computer.
    by_hand : bool
        Whether a person read it off a screen.
    """

    monitor: str
    test: str
    value: float
    low: float | None = None
    high: float | None = None
    measured_in: str = ""
    words: str = ""
    unit: str = ""
    by_hand: bool = True

    @property
    def passed(self) -> bool | None:
        """Whether the value lies within its limits; None where there is none."""
        if self.low is None and self.high is None:
            return None
        return (self.low is None or self.value >= self.low) and (self.high is None or self.value <= self.high)


@dataclass(frozen=True, slots=True)
class Reported:
    """All of it.

    Parameters
    ----------
    codes : tuple of ReportedCode
    readiness : tuple of MonitorState
    tests : tuple of OnBoardTest
    """

    codes: tuple[ReportedCode, ...] = ()
    readiness: tuple[MonitorState, ...] = ()
    tests: tuple[OnBoardTest, ...] = ()

    def of(self, code: str) -> ReportedCode | None:
        """What was reported of a code.

        Parameters
        ----------
        code : str

        Returns
        -------
        ReportedCode or None
            The first of several computers'.
        """
        return next((one for one in self.codes if one.code == code), None)


NOTHING_REPORTED = Reported()
