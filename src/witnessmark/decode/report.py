"""What a vehicle said of itself: per control unit its codes, freeze frames, monitors, tests and calibrations."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from witnessmark.decode.exchange import Exchange
from witnessmark.decode.message import Message
from witnessmark.decode.negative import Negative
from witnessmark.decode.onboardtest import OnboardTest
from witnessmark.decode.readiness import Monitors
from witnessmark.decode.reading import Reading, Unread
from witnessmark.decode.troublecode import TroubleCode
from witnessmark.decode.vin import Vin

__all__ = ["CodeReport", "FreezeFrame", "UnitReport", "VehicleReport"]


@dataclass(frozen=True, slots=True)
class CodeReport:
    """One code of one control unit.

    Parameters
    ----------
    code : TroubleCode
        As it came, with two bytes or three.
    status : tuple of str
        All that was said of it: "confirmed", "pending", "permanent" (services 03, 07, 0A), and names of
        :data:`witnessmark.decode.uds.STATUS` (service 19): "failed", "failed_since_clear", "lamp" …
    status_byte : int, optional
        As service 19 gave it last.
    first_s, last_s : float [s]
        When it was first and last told.
    cleared_s : float, optional [s]
        When codes were cleared since, if they were and it has not come back in this log.
    """

    code: TroubleCode
    status: tuple[str, ...]
    status_byte: int | None
    first_s: float
    last_s: float
    cleared_s: float | None = None


@dataclass(frozen=True, slots=True)
class FreezeFrame:
    """Values kept with a code.

    Parameters
    ----------
    code : TroubleCode, optional
        The code that stored it, where that was asked.
    number : int
        Of the frame or record.
    readings : tuple of Reading
    unread : tuple of Unread
    """

    code: TroubleCode | None
    number: int
    readings: tuple[Reading, ...] = ()
    unread: tuple[Unread, ...] = ()


@dataclass(frozen=True, slots=True)
class UnitReport:
    """One control unit.

    Parameters
    ----------
    unit : str
        The identifier of its answers: "7E8".
    name : str, optional
        As it calls itself (service 09 0A).
    codes : tuple of CodeReport
    asked : tuple of str
        Which lists of codes were told: "confirmed", "pending", "permanent", "19 02" … No code in a list that was told
        is evidence too.
    counted : int, optional
        How many codes it says it has (parameter 01, or 19 01).
    freeze_frames : tuple of FreezeFrame
    monitors, monitors_this_drive : Monitors, optional
        Parameters 01 and 41, as told last.
    tests : tuple of OnboardTest
        As told last.
    calibrations, verifications : tuple of str
    counters : mapping of str to int
        How often monitors ran.
    vin : Vin, optional
        Belongs to the owner; not shown by ``repr``.
    supported : mapping of str to tuple of int
        By service, what its bitmaps say it answers.
    layout : str, optional
        The parameter by which it counts its oxygen sensors, "13" or "1D"; None where it did not say, and 13 is assumed.
    refused : tuple of Negative
        Each kind once.
    unread : tuple of Unread
    exchanges : tuple of Exchange
        All its answers, verbatim; not shown by ``repr``.
    """

    unit: str
    name: str | None = None
    codes: tuple[CodeReport, ...] = ()
    asked: tuple[str, ...] = ()
    counted: int | None = None
    freeze_frames: tuple[FreezeFrame, ...] = ()
    monitors: Monitors | None = None
    monitors_this_drive: Monitors | None = None
    tests: tuple[OnboardTest, ...] = ()
    calibrations: tuple[str, ...] = ()
    verifications: tuple[str, ...] = ()
    counters: Mapping[str, int] = field(default_factory=dict)
    vin: Vin | None = field(default=None, repr=False)
    supported: Mapping[str, tuple[int, ...]] = field(default_factory=dict)
    layout: str | None = None
    refused: tuple[Negative, ...] = ()
    unread: tuple[Unread, ...] = ()
    exchanges: tuple[Exchange, ...] = field(default=(), repr=False)

    def without_owner(self) -> UnitReport:
        """The same without the vehicle's identification number, its bytes included: for what is written or sent on."""
        kept = tuple(replace(one, answer=_masked(one.answer)) for one in self.exchanges)
        return replace(self, vin=None, exchanges=kept)


@dataclass(frozen=True, slots=True)
class VehicleReport:
    """All control units that answered, by the identifier of their answers.

    Parameters
    ----------
    units : mapping of str to UnitReport
    """

    units: Mapping[str, UnitReport] = field(default_factory=dict)

    @property
    def codes(self) -> tuple[tuple[str, CodeReport], ...]:
        """Every code with the unit that told it."""
        return tuple((unit.unit, code) for unit in self.units.values() for code in unit.codes)

    @property
    def vin(self) -> Vin | None:
        """The vehicle's identification number, from the first unit that told it. Belongs to the owner."""
        return next((unit.vin for unit in self.units.values() if unit.vin is not None), None)

    def without_owner(self) -> VehicleReport:
        """The same without the vehicle's identification number."""
        return VehicleReport({name: unit.without_owner() for name, unit in self.units.items()})


def _masked(answer: Message) -> Message:
    """The answer's first bytes alone, where the rest is the owner's."""
    for head in (b"\x49\x02", b"\x62\xf1\x90", b"\x62\xf8\x02"):
        if answer.payload.startswith(head):
            return replace(answer, payload=head)
    at = answer.payload.find(b"\xf1\x90") if answer.payload[:1] == b"\x62" else -1
    return replace(answer, payload=answer.payload[:at]) if at > 0 else answer
