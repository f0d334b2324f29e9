"""Engines made up for the tests of the drawing, in every layout that it must draw."""

from __future__ import annotations

from dataclasses import replace

from witnessmark.case.assessment import DrawnCause
from witnessmark.engine.drive import CRANK, Sprocket, Stage, TimingDrive
from witnessmark.engine.number import ABSENT, Number
from witnessmark.engine.types import CamEdge, Camshaft, Engine, Reporting, ToneWheel
from witnessmark.source import Source

COUNTED = Source("counted", "counted by us on another of the kind")


def exactly(value: float) -> Number:
    return Number.exactly(value, COUNTED)


def sprocket(shaft: str, teeth: int | Number | None, pins: int | None = None, keyed: bool | None = None) -> Sprocket:
    count = ABSENT if teeth is None else teeth if isinstance(teeth, Number) else exactly(teeth)
    return Sprocket(shaft, count, keyed=keyed, pins_before=ABSENT if pins is None else exactly(pins))


def in_line_four(*, pins: tuple[int | None, int | None] = (38, 14), teeth: bool = True) -> Engine:
    crank, cam = (20, 40) if teeth else (None, None)
    primary = Stage(
        "primary",
        "chain",
        sprocket(CRANK, crank, keyed=True),
        (sprocket("b1.exhaust", cam, pins[0]), sprocket("b1.intake", cam, pins[1])),
        pitch_mm=exactly(8.0),
    )
    drive = TimingDrive((primary,), "one chain to both cams, intake last")
    edges = {
        "b1.intake": (100.0, 230.0, 420.0, 590.0),
        "b1.exhaust": (60.0, 190.0, 480.0, 650.0),
    }
    wheels = [ToneWheel(CRANK, CRANK, "36-1", reference_deg=exactly(80.0), keyed=False)]
    for cam_name, places in edges.items():
        marks = tuple(CamEdge(rising=i % 2 == 0, after_tdc_deg=exactly(p)) for i, p in enumerate(places))
        wheels.append(ToneWheel(cam_name, cam_name, edges=marks))
    return Engine(
        "alder 2.0",
        4,
        layout="inline",
        banks=1,
        firing_order=(1, 3, 4, 2),
        cams=(Camshaft(1, "intake"), Camshaft(1, "exhaust")),
        drive=drive,
        wheels=tuple(wheels),
        reporting=Reporting(a_is="intake"),
    )


def with_drive(
    stages: tuple[Stage, ...], *, banks: int = 1, cylinders: int = 4, pattern: str | None = "60-2"
) -> Engine:
    shafts = [s.shaft for stage in stages for s in stage.driven if "." in s.shaft]
    cams = tuple(Camshaft(int(name[1]), name.split(".")[1]) for name in shafts)
    wheel = ToneWheel(CRANK, CRANK, pattern)
    return Engine("made up", cylinders, banks=banks, cams=cams, drive=TimingDrive(stages), wheels=(wheel,))


def pushrod_six() -> Engine:
    stage = Stage("primary", "chain", sprocket(CRANK, 22, keyed=True), (sprocket("b1.single", 44, keyed=True),))
    return with_drive((stage,), cylinders=6)


def belt_three() -> Engine:
    driven = (sprocket("b1.exhaust", 48), sprocket("b1.intake", 48))
    return with_drive((Stage("primary", "belt", sprocket(CRANK, 24), driven),), cylinders=3, pattern="36-2")


def idler_four() -> Engine:
    primary = Stage("primary", "chain", sprocket(CRANK, 24), (sprocket("idler", 36),))
    driven = (sprocket("b1.exhaust", 42), sprocket("b1.intake", 42, 9))
    secondary = Stage("secondary", "chain", sprocket("idler", 28), driven)
    return with_drive((primary, secondary))


def cam_to_cam() -> Engine:
    primary = Stage("primary", "chain", sprocket(CRANK, 21), (sprocket("b1.exhaust", 42, 40),))
    link = Stage("link", "chain", sprocket("b1.exhaust", 24), (sprocket("b1.intake", 24, 12),))
    return with_drive((primary, link))


def two_banks() -> Engine:
    primary = Stage("primary", "chain", sprocket(CRANK, 22), (sprocket("idler_1", 33), sprocket("idler_2", 33)))
    right = Stage(
        "secondary_1", "chain", sprocket("idler_1", 24), (sprocket("b1.exhaust", 36), sprocket("b1.intake", 36))
    )
    left = Stage(
        "secondary_2", "chain", sprocket("idler_2", 24), (sprocket("b2.intake", 36), sprocket("b2.exhaust", 36))
    )
    return with_drive((primary, right, left), banks=2, cylinders=6)


def two_bank_links() -> Engine:
    primary = Stage("primary", "chain", sprocket(CRANK, 20), (sprocket("b1.intake", 40), sprocket("b2.intake", 40)))
    link_1 = Stage("link_1", "chain", sprocket("b1.intake", 26), (sprocket("b1.exhaust", 26),))
    link_2 = Stage("link_2", "chain", sprocket("b2.intake", 26), (sprocket("b2.exhaust", 26),))
    return with_drive((primary, link_1, link_2), banks=2, cylinders=6)


def belt_to_four_cams() -> Engine:
    driven = tuple(sprocket(name, 48) for name in ("b1.exhaust", "b1.intake", "b2.intake", "b2.exhaust"))
    return with_drive((Stage("primary", "belt", sprocket(CRANK, 24), driven),), banks=2, cylinders=6)


def single_cam_each_bank() -> Engine:
    driven = (sprocket("b1.single", None), sprocket("b2.single", Number.among([38, 40])))
    return with_drive((Stage("primary", "chain", sprocket(CRANK, None), driven),), banks=2, cylinders=8, pattern=None)


def geared() -> Engine:
    return with_drive((Stage("primary", "gear", sprocket(CRANK, 26), (sprocket("b1.single", 52),)),), cylinders=2)


def chain_for_each_bank() -> Engine:
    stages = tuple(
        Stage(f"bank_{b}", "chain", sprocket(CRANK, 20), (sprocket(f"b{b}.exhaust", 40), sprocket(f"b{b}.intake", 40)))
        for b in (1, 2)
    )
    return with_drive(stages, banks=2)


def with_pump() -> Engine:
    primary = Stage(
        "primary",
        "belt",
        sprocket(CRANK, 22),
        (sprocket("b1.exhaust", 44), sprocket("b1.intake", 44), sprocket("water_pump", 20)),
    )
    pump = Stage("oil_pump", "chain", sprocket(CRANK, 20), (sprocket("oil_pump", 26),))
    return with_drive((primary, pump))


def described_in_mm() -> Engine:
    def at(shaft: str, teeth: int, x: float, y: float) -> Sprocket:
        return replace(sprocket(shaft, teeth), at_mm=(x, y))

    stage = Stage(
        "primary",
        "chain",
        at(CRANK, 21, 0.0, 0.0),
        (at("b1.exhaust", 42, 88.0, 350.0), at("b1.intake", 42, -88.0, 350.0)),
        pitch_mm=exactly(8.0),
    )
    return with_drive((stage,))


ENGINES = {
    "in-line four": in_line_four,
    "teeth not known": lambda: in_line_four(pins=(None, None), teeth=False),
    "pushrod six": pushrod_six,
    "belt three": belt_three,
    "idler": idler_four,
    "cam to cam": cam_to_cam,
    "two banks": two_banks,
    "two banks, links": two_bank_links,
    "belt to four cams": belt_to_four_cams,
    "single cam each bank": single_cam_each_bank,
    "gears": geared,
    "chain for each bank": chain_for_each_bank,
    "with pumps": with_pump,
    "described in mm": described_in_mm,
}


def drawn_for(engine: Engine) -> tuple[DrawnCause, ...]:
    """Causes that move everything there is to move, for tests of the drawing."""
    assert engine.drive is not None
    cams = [cam.id for cam in engine.cams]
    return (
        DrawnCause(
            "h1",
            "Crank wheel slipped",
            (),
            (("crank", 10.9, 0.8),),
            "Every sprocket mark in its place. Only the wheel’s gap stands 11° ahead.",
        ),
        DrawnCause(
            "h2",
            "Chain worn",
            tuple((c, -4.7 - 1.6 * k, 0.5) for k, c in enumerate(cams)),
            (),
            "All cam marks behind, the last on the chain the most.",
        ),
        DrawnCause("h3", "Jumped a tooth", tuple((c, -9.0, 0.0) for c in cams), (), "All cam marks one tooth behind."),
        DrawnCause(
            "h4",
            "Cam wheel slipped",
            (),
            ((cams[0], 7.5, 1.0),),
            "All sprocket marks in place. The wheel of one cam stands ahead.",
        ),
        DrawnCause("healthy", "Everything in its place", (), (), "Nothing has moved."),
    )
