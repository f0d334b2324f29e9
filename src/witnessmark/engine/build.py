"""From the tables of a description, as ``schema`` holds them, to the types of the engine."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, TypeVar

from witnessmark.engine.breathing import AirPath, Breathing, CylinderSizes, ValveTiming
from witnessmark.engine.check import Description
from witnessmark.engine.complaint import Complaint
from witnessmark.engine.drive import Phaser, Roller, Sprocket, Stage, TimingDrive
from witnessmark.engine.number import Number
from witnessmark.engine.refusal import hint
from witnessmark.engine.supply_file import graph_of
from witnessmark.engine.tonewheel import WheelPattern
from witnessmark.engine.types import CamEdge, Camshaft, Engine, Reporting, ToneWheel, cam_id, cam_of_id
from witnessmark.engine.written import INHERITED
from witnessmark.errors import EngineDefinitionError
from witnessmark.source import UNSTATED, Source
from witnessmark.vocabulary import CAMS

if TYPE_CHECKING:
    from witnessmark.engine import schema

__all__ = ["described", "engine_of"]

_WITH_NUMBERS = (
    Engine, TimingDrive, Stage, Sprocket, Roller, Phaser, ToneWheel, CamEdge, Reporting, Breathing, CylinderSizes,
    ValveTiming, AirPath,
)  # fmt: skip
_PINS_LESS = {None: 0, "neither": 0, "one": 1, "both": 2}


def described(model: schema.EngineFile, where: str = "") -> Description:
    """What a description says, shafts by their ids.

    Parameters
    ----------
    model : EngineFile
    where : str
        Its file, for messages.

    Returns
    -------
    Description
        Not checked yet.

    Raises
    ------
    EngineDefinitionError
        Where a name leaves open which cam is meant.
    """
    banks, lists = _banks(model)
    names = _Names(_several_banks(model, banks), where)
    stages = tuple(_stage(one, names) for one in model.stage)
    return Description(
        cylinders=model.cylinders,
        layout=model.layout,
        banks=banks,
        bank_cylinders=lists,
        firing_order=tuple(model.firing_order),
        cams=_cams(model, stages, banks, where),
        stages=stages,
        phasers=tuple(
            (names.shaft(one.cam, f"phaser.{one.cam}"), Phaser(one.range_deg, one.fitted)) for one in model.phaser
        ),
        wheels=tuple(_wheel(one, names) for one in model.wheel),
        reporting=Reporting(**dict(model.reporting)),
        breathing=_breathing(model),
        supply=graph_of(model.supply, source=_stated(model.source)) if model.supply is not None else None,
    )


def engine_of(checked: Description, *, name: str, drive_words: str, source: Source) -> Engine:
    """The engine of a description that has been checked.

    Parameters
    ----------
    checked : Description
    name : str
    drive_words : str
        The drive in words; made from its stages where empty.
    source : Source
        Of every number that names none of its own.

    Returns
    -------
    Engine
    """
    drive = None
    if checked.stages or checked.phasers:
        drive = TimingDrive(checked.stages, drive_words or _drive_words(checked), checked.phasers)
    source = _stated(source)
    supply = checked.supply
    engine = Engine(
        name=name,
        cylinders=checked.cylinders,
        layout=checked.layout,
        banks=checked.banks,
        firing_order=checked.firing_order,
        cams=checked.cams,
        drive=drive,
        wheels=checked.wheels,
        reporting=checked.reporting,
        source=source,
        bank_cylinders=checked.bank_cylinders,
        breathing=checked.breathing,
        supply=replace(supply, name=supply.name or name) if supply is not None else None,
    )
    return _with_sources(engine, source)


def _stated(source: Source) -> Source:
    return UNSTATED if source is INHERITED else source


def _banks(model: schema.EngineFile) -> tuple[int | None, tuple[tuple[int, ...], ...]]:
    if isinstance(model.banks, tuple):
        return len(model.banks), model.banks
    by_layout = {"inline": 1, "vee": 2, "flat": 2}.get(model.layout or "")
    return (model.banks if model.banks is not None else by_layout), ()


def _several_banks(model: schema.EngineFile, banks: int | None) -> bool:
    """Whether "intake" alone would leave the bank open."""
    if banks is not None:
        return banks > 1
    shafts = [sprocket.shaft for stage in model.stage for sprocket in (stage.driver, *stage.driven)]
    named = [*model.cams, *shafts, *(one.cam for one in model.phaser), *(one.shaft for one in model.wheel)]
    return any(cam.bank > 1 for cam in map(cam_of_id, named) if cam)


class _Names:
    """Shafts as a description writes them: "intake" is enough where there is one bank."""

    def __init__(self, several: bool, where: str) -> None:
        self.several, self.where = several, where

    def shaft(self, name: str, place: str) -> str:
        if name not in CAMS:
            return name
        if self.several:
            expected = f"{cam_id(1, name)} or {cam_id(2, name)}"
            raise Complaint(place, f"“{name}” leaves the bank open", expected).error(self.where)
        return cam_id(1, name)


def _cams(model: schema.EngineFile, stages: Sequence[Stage], banks: int | None, where: str) -> tuple[Camshaft, ...]:
    if not model.cams:
        driven = {s.shaft: cam_of_id(s.shaft) for stage in stages for s in stage.driven}
        return tuple(sorted(filter(None, driven.values()), key=lambda cam: (cam.bank, CAMS.index(cam.kind))))
    count = banks if banks is not None else _banks_seen(model, where)
    found: list[Camshaft] = []
    for name in model.cams:
        cam = cam_of_id(name)
        if cam is None and name not in CAMS:
            ids = [cam_id(bank, kind) for bank in range(1, count + 1) for kind in CAMS]
            raise Complaint("cams", f"no cam is called “{name}”", todo=hint(name, [*CAMS, *ids])).error(where)
        found += [cam] if cam else [Camshaft(bank, name) for bank in range(1, count + 1)]
    return tuple(found)


def _banks_seen(model: schema.EngineFile, where: str) -> int:
    """How many banks there are where nothing counts them: as the names say, else one up to five cylinders."""
    if _several_banks(model, None):
        return 2
    if model.cylinders > 5 and not model.stage and any(name in CAMS for name in model.cams):
        todo = 'Say layout = "inline", "vee" or "flat"'
        raise Complaint("cams", f"{model.cylinders} cylinders in one bank or two?", todo=todo).error(where)
    return 1


def _stage(one: schema.StageFile, names: _Names) -> Stage:
    place = f"stage.{one.id}"
    less = _PINS_LESS[one.pins_counting]
    driver = _sprocket(one.driver, names, f"{place}.driver", less)
    driven = tuple(_sprocket(sprocket, names, f"{place}.driven", less) for sprocket in one.driven)
    if one.pins_counting is None and any(sprocket.pins_before.is_known for sprocket in driven):
        missing = Complaint(
            f"{place}.pins_counting", "pins are counted, but not said how", "“neither”, “one” or “both”"
        )
        raise replace(missing, todo="It is how many of the two marked pins are in the count").error(names.where)
    return Stage(
        id=one.id,
        kind=one.kind,
        driver=driver,
        driven=driven,
        pitch_mm=one.pitch_mm,
        links=one.links,
        pins=_pins_from_driver(driven),
        tensioner_rest_mm=one.tensioner_rest_mm,
        rollers=tuple(_roller(roller, names, f"{place}.rollers.{roller.id}") for roller in one.rollers),
    )


def _roller(one: schema.RollerFile, names: _Names, place: str) -> Roller:
    after = names.shaft(one.after, f"{place}.after")
    return Roller(one.id, after, one.kind, _centre(one.at_mm), one.diameter_mm, one.back)


def _centre(at_mm: list[float] | None) -> tuple[float, float] | None:
    return (at_mm[0], at_mm[1]) if at_mm is not None else None


def _sprocket(one: schema.SprocketFile, names: _Names, place: str, less: int) -> Sprocket:
    pins = one.pins
    if less and pins.is_known:
        low, high = (None if end is None else end - less for end in (pins.low, pins.high))
        pins = replace(pins, values=tuple(value - less for value in pins.values), low=low, high=high)
    return Sprocket(names.shaft(one.shaft, place), one.teeth, one.tight_mm, _centre(one.at_mm), one.keyed, pins)


def _pins_from_driver(driven: Sequence[Sprocket]) -> tuple[tuple[str, Number], ...]:
    """Counts between neighbouring marks, added up from the driver's mark as far as they are exact.

    Pitches add up, pins do not: n pins between, neither marked one counted, are n + 1 pitches
    (docs/physics.md, "pins").
    """
    found, pitches = [], 0.0
    for sprocket in driven:
        pins = sprocket.pins_before
        if pins.exact is None:
            if pins.is_known and not pitches:
                found.append((sprocket.shaft, pins))
            break
        pitches += pins.exact + 1.0
        found.append((sprocket.shaft, Number.exactly(pitches - 1.0, pins.source)))
    return tuple(found)


def _wheel(one: schema.WheelFile, names: _Names) -> ToneWheel:
    shaft = names.shaft(one.shaft, f"wheel.{one.shaft}")
    rising = {None: None, "rising": True, "falling": False}
    return ToneWheel(
        id=shaft,
        shaft=shaft,
        pattern=one.pattern,
        gaps_deg=_turned(one.gaps_deg or ()),
        even_edge=one.even_edge,
        reference_deg=one.reference_deg,
        edges=tuple(CamEdge(rising[edge.edge], edge.behind_index_deg, edge.after_tdc_deg) for edge in one.edges),
        keyed=one.keyed,
        sensor_kind=one.sensor_kind,
        sensor_names=tuple(one.sensor_names),
    )


def _breathing(model: schema.EngineFile) -> Breathing:
    kinds = (("intake", model.valves.intake), ("exhaust", model.valves.exhaust))
    valves = tuple(ValveTiming(kind, **dict(one)) for kind, one in kinds if one is not None)
    return Breathing(CylinderSizes(**dict(model.cylinder)), valves, AirPath(**dict(model.air)))


def _turned(gaps: Sequence[float]) -> tuple[float, ...]:
    """The gaps from the index edge on; as they stand where they make no wheel, for the check to see."""
    try:
        return WheelPattern.from_gaps(gaps).gaps_deg if gaps else ()
    except EngineDefinitionError:
        return tuple(gaps)


def _drive_words(said: Description) -> str:
    stages = ((s.kind, s.driver.shaft, _and(said.said(d.shaft) for d in s.driven)) for s in said.stages)
    return "; ".join(f"{kind} from {said.said(driver)} to {driven}" for kind, driver, driven in stages)


def _and(names: Iterable[str]) -> str:
    *first, last = names
    return f"{', '.join(first)} and {last}" if first else last


_T = TypeVar("_T")


def _with_sources(part: _T, source: Source) -> _T:
    """The same with a source on every number that names none of its own."""
    if isinstance(part, Number):
        return replace(part, source=source) if part.source is INHERITED else part
    if isinstance(part, tuple):
        return tuple(_with_sources(one, source) for one in part)  # type: ignore[return-value]
    if isinstance(part, _WITH_NUMBERS):
        names = [name for name in part.__dataclass_fields__ if name != "source"]
        return replace(part, **{name: _with_sources(getattr(part, name), source) for name in names})
    return part
