"""Engines of our own invention to rehearse on: usual layouts of timing drives, fully described.

No number here is any maker's. They differ in everything that matters to measuring and inferring: one bank or two, one
chain, two in turn or a belt, which cam drives which, crank wheels with one gap, several, an added tooth or a code, cam
wheels of one to eight edges, hall and reluctance sensors.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from witnessmark.engine.drive import CRANK, Phaser, Sprocket, Stage, TimingDrive
from witnessmark.engine.number import Number
from witnessmark.engine.types import CamEdge, Camshaft, Engine, Reporting, ToneWheel, cam_id
from witnessmark.errors import one_of
from witnessmark.source import Source

__all__ = ["LAYOUTS", "OTHER_LAYOUTS", "layout"]

_INVENTED = Source("assumed", "invented for rehearsal")


def _n(value: float) -> Number:
    return Number.exactly(value, _INVENTED)


@dataclass(frozen=True, slots=True)
class _Loop:
    """A chain or belt in numbers: the driver's teeth, then each driven shaft, its teeth, the tight span before it."""

    id: str
    driver: str
    teeth: int
    driven: tuple[tuple[str, int, float], ...]
    kind: str = "chain"
    pitch_mm: float = 8.0

    def stage(self) -> Stage:
        hung = tuple(Sprocket(shaft, _n(teeth), _n(tight)) for shaft, teeth, tight in self.driven)
        return Stage(self.id, self.kind, Sprocket(self.driver, _n(self.teeth)), hung, pitch_mm=_n(self.pitch_mm))


def _cam_wheel(cam: str, widths_cam_deg: Sequence[float], first_deg: float, kind: str = "hall") -> ToneWheel:
    """A cam wheel from the widths of its high and low parts in turn (cam degrees); first rise at a crank angle."""
    edges, at, rising = [], first_deg, True
    for width in widths_cam_deg:
        edges.append(CamEdge(rising, after_tdc_deg=_n(at % 720.0)))
        at += 2.0 * width
        rising = not rising
    return ToneWheel(cam, cam, edges=tuple(edges), sensor_kind=kind)


def _teeth_only(cam: str, places_deg: Sequence[float]) -> ToneWheel:
    """A cam wheel with narrow teeth under a reluctance sensor: only the middle of each tooth is described."""
    edges = tuple(CamEdge(False, after_tdc_deg=_n(at)) for at in sorted(p % 720.0 for p in places_deg))
    return ToneWheel(cam, cam, edges=edges, sensor_kind="reluctance")


def _crank_wheel(pattern: str, reference_deg: float, even_edge: str, kind: str = "hall") -> ToneWheel:
    return ToneWheel(
        CRANK, CRANK, pattern=pattern, even_edge=even_edge, reference_deg=_n(reference_deg), sensor_kind=kind
    )


def _engine(
    name: str,
    cylinders: int,
    form: str,
    order: tuple[int, ...],
    cams: Sequence[tuple[int, str]],
    loops: Sequence[_Loop],
    wheels: Sequence[ToneWheel],
    label: str,
    phasers: Sequence[tuple[str, float]] = (),
) -> Engine:
    moved = tuple((cam, Phaser(_n(reach))) for cam, reach in phasers)
    return Engine(
        name=name,
        cylinders=cylinders,
        layout=form,
        banks=2 if form in ("vee", "flat") else 1,
        firing_order=order,
        cams=tuple(Camshaft(bank, kind) for bank, kind in cams),
        drive=TimingDrive(tuple(loop.stage() for loop in loops), label, moved),
        wheels=tuple(wheels),
        reporting=Reporting(sign=_n(1), a_is="intake", learns=True, correlation_limit_deg=_n(8)),
        source=_INVENTED,
    )


_I1, _E1, _I2, _E2 = (cam_id(bank, kind) for bank in (1, 2) for kind in ("intake", "exhaust"))
_S1, _S2 = cam_id(1, "single"), cam_id(2, "single")
_BOTH = ((1, "intake"), (1, "exhaust"))
_FOUR = (*_BOTH, (2, "intake"), (2, "exhaust"))
# Widths of the high and low parts of a cam wheel in cam degrees: half and half; two long, two short; three and one.
_HALF = (180.0, 180.0)
_LONG_SHORT = (70.0, 20.0, 110.0, 70.0, 20.0, 20.0, 30.0, 20.0)
_THREE_ONE = (30.0, 90.0, 30.0, 90.0, 30.0, 30.0, 15.0, 45.0)
_TWO_WIDTHS = (120.0, 60.0, 60.0, 120.0)


def _four_one_chain() -> Engine:
    loop = _Loop("primary", CRANK, 21, ((_E1, 42, 352.0), (_I1, 42, 104.0)))
    wheels = (
        _crank_wheel("60-2", 84.0, "falling"),
        _cam_wheel(_I1, _LONG_SHORT, 40.0),
        _cam_wheel(_E1, _LONG_SHORT, 250.0),
    )
    label = "one chain to both cams"
    phasers = ((_I1, 50.0), (_E1, -40.0))
    return _engine("four in line, one chain", 4, "inline", (1, 3, 4, 2), _BOTH, [loop], wheels, label, phasers)


def _four_two_chains() -> Engine:
    # 24/32 x 28/42 = 1/2: neither step is that of a direct drive.
    first = _Loop("primary", CRANK, 24, (("idler", 32, 260.0),))
    second = _Loop("secondary", "idler", 28, ((_I1, 42, 180.0), (_E1, 42, 96.0)), pitch_mm=7.0)
    wheels = (
        _crank_wheel("36-1", 210.0, "falling", "reluctance"),
        _cam_wheel(_I1, _TWO_WIDTHS, 130.0),
        _cam_wheel(_E1, _TWO_WIDTHS, 480.0),
    )
    label = "an idler and a second chain to both cams"
    loops = [first, second]
    return _engine("four in line, two chains", 4, "inline", (1, 3, 4, 2), _BOTH, loops, wheels, label, ((_I1, 45.0),))


def _four_link() -> Engine:
    first = _Loop("primary", CRANK, 20, ((_E1, 40, 330.0),))
    link = _Loop("link", _E1, 30, ((_I1, 30, 70.0),), pitch_mm=6.35)
    wheels = (_crank_wheel("12+1", 15.0, "rising"), _cam_wheel(_I1, _HALF, 300.0), _cam_wheel(_E1, _THREE_ONE, 95.0))
    label = "a chain to the exhaust cam, which drives the intake cam"
    phasers = ((_I1, 40.0),)
    return _engine("four in line, cam to cam", 4, "inline", (1, 3, 4, 2), _BOTH, [first, link], wheels, label, phasers)


def _six_vee_chains() -> Engine:
    first = _Loop("primary", CRANK, 23, (("idler_1", 46, 240.0), ("idler_2", 46, 180.0)))
    left = _Loop("secondary_1", "idler_1", 26, ((_I1, 26, 150.0), (_E1, 26, 88.0)), pitch_mm=7.0)
    right = _Loop("secondary_2", "idler_2", 26, ((_E2, 26, 150.0), (_I2, 26, 88.0)), pitch_mm=7.0)
    wheels = (
        _crank_wheel("36-2-2-2", 300.0, "rising"),
        _cam_wheel(_I1, _THREE_ONE, 60.0),
        _cam_wheel(_E1, _THREE_ONE, 310.0),
        _cam_wheel(_I2, _THREE_ONE, 180.0),
        _cam_wheel(_E2, _THREE_ONE, 430.0),
    )
    label = "one primary chain and a second one for each bank"
    phasers = ((_I1, 50.0), (_I2, 50.0), (_E1, -45.0), (_E2, -45.0))
    loops = [first, left, right]
    return _engine("six in vee, three chains", 6, "vee", (1, 2, 3, 4, 5, 6), _FOUR, loops, wheels, label, phasers)


def _six_vee_belt() -> Engine:
    loop = _Loop("primary", CRANK, 24, ((_S1, 48, 300.0), (_S2, 48, 250.0)), "belt", 9.525)
    wheels = (
        _crank_wheel("36-2-1", 120.0, "falling"),
        _cam_wheel(_S1, _HALF, 25.0),
        _teeth_only(_S2, [100.0, 340.0, 400.0, 580.0]),
    )
    cams = ((1, "single"), (2, "single"))
    return _engine("six in vee, one belt", 6, "vee", (1, 4, 2, 5, 3, 6), cams, [loop], wheels, "one belt to both cams")


def _three_coded() -> Engine:
    loop = _Loop("primary", CRANK, 19, ((_I1, 38, 300.0), (_E1, 38, 98.0)))
    wheels = (
        _crank_wheel("24 uneven", 40.0, "falling"),
        _cam_wheel(_I1, _HALF, 500.0),
        _cam_wheel(_E1, _TWO_WIDTHS, 200.0),
    )
    label = "one chain to both cams, exhaust last"
    phasers = ((_I1, 35.0), (_E1, -35.0))
    return _engine("three in line, coded wheel", 3, "inline", (1, 3, 2), _BOTH, [loop], wheels, label, phasers)


def _five_one_chain() -> Engine:
    loop = _Loop("primary", CRANK, 22, ((_I1, 44, 330.0), (_E1, 44, 110.0)))
    wheels = (
        _crank_wheel("60-2", 18.0, "falling", "reluctance"),
        _cam_wheel(_I1, _TWO_WIDTHS, 10.0),
        _cam_wheel(_E1, _TWO_WIDTHS, 400.0),
    )
    label = "one chain to both cams, exhaust last"
    return _engine("five in line", 5, "inline", (1, 2, 4, 5, 3), _BOTH, [loop], wheels, label, ((_I1, 42.0),))


def _four_flat_belt() -> Engine:
    loop = _Loop("primary", CRANK, 20, ((_I1, 40, 260.0), (_E1, 40, 90.0), (_E2, 40, 250.0), (_I2, 40, 90.0)), "belt")
    wheels = (
        _crank_wheel("36-2", 250.0, "rising"),
        _cam_wheel(_I1, _THREE_ONE, 70.0),
        _cam_wheel(_E1, _HALF, 210.0),
        _cam_wheel(_I2, _THREE_ONE, 330.0),
        _cam_wheel(_E2, _HALF, 600.0),
    )
    return _engine("four flat, one belt", 4, "flat", (1, 3, 2, 4), _FOUR, [loop], wheels, "one belt to all cams")


def _four_one_cam() -> Engine:
    loop = _Loop("primary", CRANK, 18, ((_S1, 36, 310.0),), pitch_mm=9.525)
    wheels = (_crank_wheel("24-1", 170.0, "falling"), _cam_wheel(_S1, _LONG_SHORT, 350.0))
    return _engine("four in line, one cam", 4, "inline", (1, 3, 4, 2), ((1, "single"),), [loop], wheels, "one chain")


LAYOUTS = {
    "four_one_chain": _four_one_chain,
    "four_two_chains": _four_two_chains,
    "four_link": _four_link,
    "six_vee_chains": _six_vee_chains,
    "six_vee_belt": _six_vee_belt,
    "three_coded": _three_coded,
}
"""The six on which measuring is measured: no constant is set on these."""

OTHER_LAYOUTS = {
    "five_one_chain": _five_one_chain,
    "four_flat_belt": _four_flat_belt,
    "four_one_cam": _four_one_cam,
}
"""Others, on which constants may be set."""


def layout(name: str) -> Engine:
    """An invented engine by its name.

    Parameters
    ----------
    name : str
        A key of :data:`LAYOUTS` or :data:`OTHER_LAYOUTS`.

    Returns
    -------
    Engine

    Raises
    ------
    InputError
        For any other name.
    """
    known = {**LAYOUTS, **OTHER_LAYOUTS}
    if name not in known:
        raise one_of("layout", name, known)
    return known[name]()
