"""The engine description: what is known of one engine, every number with its source."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from witnessmark.engine.breathing import Breathing
from witnessmark.engine.drive import TimingDrive
from witnessmark.engine.number import ABSENT, Number
from witnessmark.engine.supply import SupplyGraph
from witnessmark.errors import EngineDefinitionError, InputError
from witnessmark.source import UNSTATED, Source
from witnessmark.vocabulary import CAMS, Place

__all__ = ["CamEdge", "Camshaft", "Engine", "Reporting", "ToneWheel", "cam_id", "cam_of_id"]

_CAM_ID = re.compile(rf"b([1-9][0-9]?)\.({'|'.join(CAMS)})")


def cam_id(bank: int, kind: str) -> str:
    """The id of a camshaft: "b1.intake".

    Parameters
    ----------
    bank : int
    kind : str

    Returns
    -------
    str
    """
    return f"b{bank}.{kind}"


@dataclass(frozen=True, slots=True)
class Camshaft:
    """One camshaft of one bank: "intake", "exhaust" or "single".

    Parameters
    ----------
    bank : int
        From 1.
    kind : str
    """

    bank: int
    kind: str

    @property
    def id(self) -> str:
        """ "b1.intake"."""
        return cam_id(self.bank, self.kind)


def cam_of_id(name: str) -> Camshaft | None:
    """The camshaft of an id ("b2.exhaust"), or None where a name is not a cam's.

    Parameters
    ----------
    name : str

    Returns
    -------
    Camshaft or None
    """
    match = _CAM_ID.fullmatch(name)
    return Camshaft(int(match[1]), match[2]) if match else None


@dataclass(frozen=True, slots=True)
class CamEdge:
    """One edge of a cam wheel.

    Parameters
    ----------
    rising : bool, optional
        Direction of the signal at it, where described.
    behind_index_deg : Number
        Crank degrees behind the crank wheel's index edge, 0..720, where described.
    after_tdc_deg : Number
        Crank degrees after firing TDC of cylinder 1, 0..720, where described.
    """

    rising: bool | None = None
    behind_index_deg: Number = ABSENT
    after_tdc_deg: Number = ABSENT


@dataclass(frozen=True, slots=True)
class ToneWheel:
    """A wheel that a position sensor watches.

    Parameters
    ----------
    id : str
        "crank" or a cam's id.
    shaft : str
        The shaft it sits on.
    pattern : str, optional
        Name of a usual pattern ("60-2", "36-2-1") or None.
    gaps_deg : tuple of float, shape (n,) [deg]
        The gaps between even edges in turn, in degrees of its own shaft, from the index
        edge on; empty where the pattern's name says it, or nothing does.
    even_edge : str, optional
        "rising", "falling", or None: find it from the data.
    reference_deg : Number
        Crank angle after TDC of cylinder 1 at which the index edge passes (crank wheel only),
        0..360. Often absent.
    edges : tuple of CamEdge
        A cam wheel's edges as crank degrees.
    keyed : bool, optional
        Whether it is keyed to its shaft; decides whether it can slip.
    sensor_kind : str, optional
        "hall" or "reluctance".
    sensor_names : tuple of str
        What else its sensor is called: in the wiring diagram, the logged data, on the screen.
    """

    id: str
    shaft: str
    pattern: str | None = None
    gaps_deg: tuple[float, ...] = ()
    even_edge: str | None = None
    reference_deg: Number = ABSENT
    edges: tuple[CamEdge, ...] = ()
    keyed: bool | None = None
    sensor_kind: str | None = None
    sensor_names: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Reporting:
    """How the vehicle's computer speaks about its cams.

    Parameters
    ----------
    sign : Number
        +1 where + means advanced, -1 where it means retarded; candidates or absent.
    a_is : str, optional
        Which cam "A" (or sensor 1) is: "intake", "exhaust", or None where not known.
    learns : bool, optional
        Whether it learns a zero for each cam.
    correlation_limit_deg : Number
        Where its crank-cam correlation code sets, in crank degrees.
    value : str, optional
        What its number for a cam's angle is: "actual", "target", "deviation" (actual less
        target), "learnt", or None where not known.
    """

    sign: Number = ABSENT
    a_is: str | None = None
    learns: bool | None = None
    correlation_limit_deg: Number = ABSENT
    value: str | None = None


@dataclass(frozen=True, slots=True)
class Engine:
    """One engine, as far as it is described.

    Parameters
    ----------
    name : str
    cylinders : int
    layout : str, optional
        "inline", "flat", "vee", or None where not said.
    banks : int, optional
        None where the layout is not said.
    firing_order : tuple of int
        Empty where not said.
    cams : tuple of Camshaft
        Empty where not said.
    drive : TimingDrive, optional
        None where not described: usual layouts are then tried with their odds.
    wheels : tuple of ToneWheel
    reporting : Reporting
    source : Source
    bank_cylinders : tuple of tuple of int
        The cylinders of each bank, bank 1 first; empty where not said.
    breathing : Breathing
        Cylinders, valves and air, as far as they are described.
    supply : SupplyGraph, optional
        Supplies and grounds; None where not described (``supply_usual.supply_of`` then gives the usual ones).
    """

    name: str
    cylinders: int
    layout: str | None = None
    banks: int | None = None
    firing_order: tuple[int, ...] = ()
    cams: tuple[Camshaft, ...] = ()
    drive: TimingDrive | None = None
    wheels: tuple[ToneWheel, ...] = ()
    reporting: Reporting = field(default_factory=Reporting)
    source: Source = UNSTATED
    bank_cylinders: tuple[tuple[int, ...], ...] = ()
    breathing: Breathing = field(default_factory=Breathing)
    supply: SupplyGraph | None = None

    def wheel(self, name: str) -> ToneWheel | None:
        """The tone wheel of this id, or None.

        Parameters
        ----------
        name : str

        Returns
        -------
        ToneWheel or None
        """
        return next((wheel for wheel in self.wheels if wheel.id == name), None)

    def cam(self, name: str) -> Camshaft:
        """The camshaft of this id.

        Parameters
        ----------
        name : str
            "b1.intake".

        Returns
        -------
        Camshaft

        Raises
        ------
        EngineDefinitionError
            If the engine has none.
        """
        for shaft in self.cams:
            if shaft.id == name:
                return shaft
        has = ", ".join(shaft.id for shaft in self.cams) or "none described"
        raise EngineDefinitionError(f"no camshaft {name}", expected=f"one of {has}")

    def cam_at(self, place: Place, *, key: str = "cam", bank_key: str = "bank") -> str:
        """The id of the camshaft a place speaks of; bank 1 where it names none.

        Parameters
        ----------
        place : Place
        key, bank_key : str
            "cam" and "bank", or "other_cam" and "other_bank".

        Returns
        -------
        str
            Cam id.

        Raises
        ------
        InputError
            For a bank or a cam this engine does not have.
        """
        bank, kind = place.get(bank_key), place.get(key)
        if bank is None:
            bank = place.get("bank") or 1
        if self.banks is not None and int(bank) > self.banks:
            how = "an in-line engine has one" if self.banks == 1 else f"this engine has {self.banks}"
            raise InputError(f"Bank {bank}: {how}", given=f"bank={bank}")
        name = cam_id(int(bank), str(kind))
        if self.cams and all(shaft.id != name for shaft in self.cams):
            kinds = ", ".join(sorted({shaft.kind for shaft in self.cams}))
            raise InputError(f"No {kind} cam on bank {bank} of this engine", given=str(place), expected=f"cam={kinds}")
        return name
