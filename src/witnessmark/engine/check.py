"""What cannot be: each contradiction of an engine description as one line with its place.

Counts, names and ratios only. Whether a chain's path closes in millimetres is the affair of
``physics.path``.
"""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from witnessmark.engine.breathing import Breathing
from witnessmark.engine.breathing_check import breathing_complaints
from witnessmark.engine.complaint import Complaint
from witnessmark.engine.drive import CRANK, Phaser, Sprocket, Stage, TimingDrive
from witnessmark.engine.number import Number
from witnessmark.engine.supply import SupplyGraph
from witnessmark.engine.supply_check import supply_complaints, supply_part_complaints
from witnessmark.engine.tonewheel import WheelPattern, parse_wheel
from witnessmark.engine.types import Camshaft, Engine, Reporting, ToneWheel, cam_of_id
from witnessmark.errors import InputError, nearest
from witnessmark.vocabulary import CAMS

__all__ = ["Description", "check_engine", "complaints"]

_HALF = Fraction(1, 2)
_MANY = 5000  # speed ratios one path may leave open before the check lets it pass
_EDGE_TOLERANCE_DEG = 3.0  # two described angles of one edge may differ by what a degree wheel cannot show


@dataclass(frozen=True, slots=True)
class Description:
    """All that a description says, before anybody has asked whether it can be.

    Parameters
    ----------
    cylinders : int
    layout : str, optional
    banks : int, optional
    bank_cylinders : tuple of tuple of int
    firing_order : tuple of int
    cams : tuple of Camshaft
    stages : tuple of Stage
    phasers : tuple of (cam, Phaser)
    wheels : tuple of ToneWheel
    reporting : Reporting
    breathing : Breathing
    supply : SupplyGraph, optional
    """

    cylinders: int
    layout: str | None = None
    banks: int | None = None
    bank_cylinders: tuple[tuple[int, ...], ...] = ()
    firing_order: tuple[int, ...] = ()
    cams: tuple[Camshaft, ...] = ()
    stages: tuple[Stage, ...] = ()
    phasers: tuple[tuple[str, Phaser], ...] = ()
    wheels: tuple[ToneWheel, ...] = ()
    reporting: Reporting = field(default_factory=Reporting)
    breathing: Breathing = field(default_factory=Breathing)
    supply: SupplyGraph | None = None

    @classmethod
    def of(cls, engine: Engine) -> Description:
        """What an engine says."""
        drive = engine.drive or TimingDrive(())
        return cls(
            engine.cylinders,
            engine.layout,
            engine.banks,
            engine.bank_cylinders,
            engine.firing_order,
            engine.cams,
            drive.stages,
            drive.phasers,
            engine.wheels,
            engine.reporting,
            engine.breathing,
            engine.supply,
        )

    @property
    def cam_ids(self) -> tuple[str, ...]:
        """Ids of the cams."""
        return tuple(cam.id for cam in self.cams)

    def said(self, shaft: str) -> str:
        """A shaft in words: "crank", "intake cam", "exhaust cam of bank 2", "idler"."""
        cam = cam_of_id(shaft)
        if cam is None:
            return shaft
        kind = "cam" if cam.kind == "single" else f"{cam.kind} cam"
        several = cam.bank > 1 or (self.banks or 1) > 1 or any(one.bank > 1 for one in self.cams)
        return f"{kind} of bank {cam.bank}" if several else kind


def check_engine(engine: Engine) -> None:
    """Refuse an engine that cannot be.

    Parameters
    ----------
    engine : Engine

    Raises
    ------
    EngineDefinitionError
        With the first contradiction, and how many more there are.
    """
    found = complaints(Description.of(engine))
    if found:
        raise found[0].error(engine.name, more=len(found) - 1)


def complaints(described: Description) -> list[Complaint]:
    """Everything in a description that cannot be.

    Parameters
    ----------
    described : Description

    Returns
    -------
    list of Complaint
        Empty where nothing contradicts.
    """
    drive = list(_stage_complaints(described))
    found = [*_cylinder_complaints(described), *_bank_complaints(described), *_cam_complaints(described), *drive]
    if described.stages and not drive:
        found += _speed_complaints(described)
    found += [*_phaser_complaints(described), *_wheel_complaints(described), *_reporting_complaints(described)]
    return [
        *found,
        *breathing_complaints(described.breathing, described.cylinders),
        *_supply_complaints(described),
    ]


def _supply_complaints(described: Description) -> Iterator[Complaint]:
    if described.supply is not None:
        parts = supply_part_complaints(described.supply, described.cylinders, described.cam_ids)
        for one in (*supply_complaints(described.supply), *parts):
            yield replace(one, place=f"supply.{one.place}")


def _cylinder_complaints(described: Description) -> Iterator[Complaint]:
    n, order = described.cylinders, described.firing_order
    if order:
        yield from _each_once("firing_order", "the firing order", order, n)
    if described.bank_cylinders:
        listed = tuple(itertools.chain.from_iterable(described.bank_cylinders))
        yield from _each_once("banks", "the lists of banks", listed, n)


def _each_once(place: str, what: str, listed: Sequence[int], n: int) -> Iterator[Complaint]:
    """Every cylinder must be there, once."""
    expected = f"each of the {n} cylinders once" if n > 1 else "cylinder 1"
    for cylinder, times in sorted(Counter(listed).items()):
        if not 1 <= cylinder <= n:
            yield Complaint(place, f"cylinder {cylinder} in {what}: this engine has {n}", expected)
        elif times > 1:
            yield Complaint(place, f"cylinder {cylinder} stands {_times(times)} in {what}", expected)
    missing = [str(c) for c in range(1, n + 1) if c not in listed]
    if missing:
        word = "cylinder" if len(missing) == 1 else "cylinders"
        yield Complaint(place, f"{word} {', '.join(missing)} missing in {what}", expected)


def _times(n: int) -> str:
    return {2: "twice", 3: "three times"}.get(n, f"{n} times")


def _bank_complaints(described: Description) -> Iterator[Complaint]:
    banks, layout = described.banks, described.layout
    if banks is not None and not 1 <= banks <= min(2, described.cylinders):
        yield Complaint("banks", f"{banks} banks of {described.cylinders} cylinders", "1 or 2")
    elif layout == "inline" and banks not in (None, 1):
        yield Complaint("banks", f"{banks} banks: an in-line engine has one", 'one bank, or layout = "vee"')
    elif layout in ("vee", "flat") and banks == 1:
        yield Complaint("banks", f"one bank: a {layout} engine has two", 'two banks, or layout = "inline"')


def _cam_complaints(described: Description) -> Iterator[Complaint]:
    for name, times in Counter(described.cam_ids).items():
        if times > 1:
            yield Complaint("cams", f"the {described.said(name)} is there {_times(times)}", "each cam once")
    banks = 1 if described.layout == "inline" else described.banks
    for cam in described.cams:
        if cam.bank < 1 or (banks is not None and cam.bank > banks):
            has = "an in-line engine has one bank" if described.layout == "inline" else f"this engine has {banks}"
            yield Complaint(_cam_place(described, cam.id), f"a cam on bank {cam.bank}: {has}")
    for bank in sorted({cam.bank for cam in described.cams}):
        kinds = {cam.kind for cam in described.cams if cam.bank == bank}
        if "single" in kinds and len(kinds) > 1:
            others = " and ".join(sorted(kinds - {"single"}))
            yield Complaint(
                "cams", f"bank {bank} has a single cam and an {others} cam", "single alone, or intake and exhaust"
            )


def _cam_place(described: Description, name: str) -> str:
    for stage in described.stages:
        for sprocket in stage.driven:
            if sprocket.shaft == name:
                return f"stage.{stage.id}.driven.{name}"
    return "cams"


def _place(stage: Stage, sprocket: Sprocket, key: str = "") -> str:
    end = "driver" if sprocket is stage.driver else f"driven.{sprocket.shaft}"
    return f"stage.{stage.id}.{end}" + (f".{key}" if key else "")


def _stage_complaints(described: Description) -> Iterator[Complaint]:
    stages = described.stages
    for name, times in Counter(stage.id for stage in stages).items():
        if times > 1:
            yield Complaint(f"stage.{name}", f"{times} stages are called “{name}”", "a name of its own for each")
    reached: dict[str, str] = {CRANK: ""}
    for stage in stages:
        yield from _driver_complaints(described, stage, reached)
        for sprocket in stage.driven:
            if sprocket.shaft == CRANK:
                yield Complaint(_place(stage, sprocket), "the crank drives, it is not driven", "a cam or an idler")
            elif sprocket.shaft in reached:
                by = reached[sprocket.shaft]
                yield Complaint(
                    _place(stage, sprocket), f"the {described.said(sprocket.shaft)} is driven already, by stage {by}"
                )
            reached.setdefault(sprocket.shaft, stage.id)
        yield from _sprocket_complaints(stage)
        yield from _roller_complaints(stage)
    if stages:
        yield from _reach_complaints(described, set(reached))


def _driver_complaints(described: Description, stage: Stage, reached: dict[str, str]) -> Iterator[Complaint]:
    driver = stage.driver.shaft
    if driver in reached:
        return
    later = next((s.id for s in described.stages if any(sprocket.shaft == driver for sprocket in s.driven)), None)
    if later == stage.id:
        todo = "A shaft cannot drive itself"
    elif later:
        todo = f"Stage {later} drives it; put that stage first"
    else:
        near = nearest(driver, reached)
        todo = f"Nearest: {near[0]}" if near else f"Driven so far: {', '.join(reached)}"
    yield Complaint(f"stage.{stage.id}.driver", f"nothing drives the {described.said(driver)}", todo=todo)


def _sprocket_complaints(stage: Stage) -> Iterator[Complaint]:
    for key, number in (("tight_mm", stage.driver.tight_mm), ("pins", stage.driver.pins_before)):
        if number.is_known:
            yield Complaint(
                _place(stage, stage.driver, key),
                "the tight side begins at the driver",
                todo=f"Give {key} to the driven sprocket it leads to",
            )
    if stage.kind == "gear":
        for key, known in (("pitch_mm", stage.pitch_mm), ("links", stage.links)):
            if known.is_known:
                yield Complaint(f"stage.{stage.id}.{key}", f"gears have no {key.removesuffix('_mm')}")
    length, links, pitch = _least_length(stage), _most(stage.links), _most(stage.pitch_mm)
    if links is not None and pitch is not None and length is not None and length > links * pitch:
        yield Complaint(
            f"stage.{stage.id}.links",
            f"{links:g} links of {pitch:g} mm are {links * pitch:g} mm, the tight side alone is {length:g} mm",
        )


def _roller_complaints(stage: Stage) -> Iterator[Complaint]:
    shafts = [sprocket.shaft for sprocket in stage.sprockets]
    if stage.kind == "gear" and stage.rollers:
        yield Complaint(f"stage.{stage.id}.rollers", "gears run over no rollers")
    for name, times in Counter([*shafts, *(roller.id for roller in stage.rollers)]).items():
        if times > 1 and any(roller.id == name for roller in stage.rollers):
            message = f"“{name}” stands {_times(times)} among sprockets and rollers"
            yield Complaint(f"stage.{stage.id}.rollers.{name}", message, "a name of its own for each")
    for roller in stage.rollers:
        if roller.after not in shafts:
            near = nearest(roller.after, shafts)
            todo = f"Nearest: {near[0]}" if near else f"One of: {', '.join(shafts)}"
            message = f"no sprocket of this stage sits on “{roller.after}”"
            yield Complaint(f"stage.{stage.id}.rollers.{roller.id}.after", message, todo=todo)


def _least_length(stage: Stage) -> float | None:
    lengths = [_least(sprocket.tight_mm) for sprocket in stage.driven]
    known = [length for length in lengths if length is not None]
    return sum(known) if known else None


def _least(number: Number) -> float | None:
    return min(number.values) if number.values else number.low


def _most(number: Number) -> float | None:
    return max(number.values) if number.values else number.high


def _reach_complaints(described: Description, reached: set[str]) -> Iterator[Complaint]:
    """Every cam must be driven; and every cam that is driven must be a cam of this engine."""
    idle = {shaft for shaft in reached - {CRANK} if shaft not in described.cam_ids}
    drivers = {stage.driver.shaft for stage in described.stages}
    for name in described.cam_ids:
        if name not in reached:
            near = nearest(name.split(".")[-1], sorted(idle - drivers))
            todo = f"Is “{near[0]}” meant?" if near else "Name it among the driven sprockets of a stage"
            yield Complaint("stage", f"no stage drives the {described.said(name)}", todo=todo)
    if not described.cams:
        near = [word for shaft in sorted(idle - drivers) for word in nearest(shaft, CAMS)]
        todo = f"Nearest: {near[0]}" if near else "Name the cams among the driven sprockets"
        yield Complaint("stage", "no stage drives a cam", expected=", ".join(CAMS), todo=todo)


def _speed_complaints(described: Description) -> Iterator[Complaint]:
    """Every cam of a four-stroke engine turns at half the crank's speed."""
    drive = TimingDrive(described.stages)
    for name in described.cam_ids:
        path = drive.path(name)
        ratios = _possible_ratios(path)
        if ratios is None or _HALF in ratios:
            continue
        *before, (stage, shaft) = path
        sprocket = stage.sprocket_on(shaft)
        place, cam_teeth = _place(stage, sprocket, "teeth"), sprocket.teeth.exact
        if not before and cam_teeth is not None and cam_teeth % 2:
            yield Complaint(
                place,
                f"an odd cam sprocket of {cam_teeth:g} cannot be a direct 2:1 drive: {cam_teeth / 2:g} crank teeth",
                "an even count, or an idler between",
            )
        else:
            yield Complaint(place, *_off_speed(described.said(name), path, ratios))


def _off_speed(cam: str, path: Sequence[tuple[Stage, str]], ratios: set[Fraction]) -> tuple[str, str]:
    """What to say of a cam whose counts do not make half the crank's speed, and what was expected."""
    pairs = " × ".join(f"{stage.driver.teeth}/{stage.sprocket_on(shaft).teeth}" for stage, shaft in path)
    expected = "half of it: driving over driven teeth multiply to 1/2"
    if len(ratios) > 1:
        return f"with none of these counts does the {cam} turn at half the crank's speed ({pairs})", expected
    (ratio,) = ratios
    stage, shaft = path[-1]
    last = stage.sprocket_on(shaft).teeth.exact
    needed = ratio * 2 * Fraction(int(last)) if last is not None else Fraction(1, 3)
    if needed.denominator == 1:
        expected += f", as with {needed} teeth here"
    return f"the {cam} would turn at {float(ratio):.4g} of the crank's speed ({pairs})", expected


def _possible_ratios(path: Sequence[tuple[Stage, str]]) -> set[Fraction] | None:
    """Every speed over the crank's that the counts of a path allow; None where one is not known or too many are."""
    ratios = {Fraction(1)}
    for stage, shaft in path:
        driving, driven = _counts(stage.driver.teeth), _counts(stage.sprocket_on(shaft).teeth)
        if not driving and not driven and stage.driver.shaft == CRANK:
            return None
        if not driven or not driving:
            odd = not driving and driven and all(n % 2 for n in driven) and len(path) == 1
            return {Fraction(0)} if odd else None
        if len(ratios) * len(driving) * len(driven) > _MANY:
            return None
        ratios = {ratio * Fraction(a, b) for ratio in ratios for a in driving for b in driven}
    return ratios


def _counts(number: Number) -> tuple[int, ...]:
    if number.values:
        return tuple(int(value) for value in number.values)
    if number.low is None or number.high is None:
        return ()
    return tuple(range(int(number.low), int(number.high) + 1))


def _phaser_complaints(described: Description) -> Iterator[Complaint]:
    for name, times in Counter(cam for cam, _ in described.phasers).items():
        if times > 1:
            yield Complaint(f"phaser.{name}", f"{times} phasers on the {described.said(name)}", "one for each cam")
        yield from _shaft_complaints(described, f"phaser.{name}", name, ())


def _shaft_complaints(described: Description, place: str, shaft: str, besides: tuple[str, ...]) -> Iterator[Complaint]:
    """The shaft must be a cam of this engine; any cam's name will do where the cams are not described."""
    choices = (*besides, *(described.cam_ids or CAMS))
    if shaft in choices or (not described.cams and cam_of_id(shaft) is not None):
        return
    near = nearest(shaft, choices)
    todo = f"Nearest: {near[0]}" if near else f"One of: {', '.join(choices)}"
    yield Complaint(place, f"this engine has no {described.said(shaft)}", todo=todo)


def _wheel_complaints(described: Description) -> Iterator[Complaint]:
    for name, times in Counter(wheel.shaft for wheel in described.wheels).items():
        if times > 1:
            yield Complaint(f"wheel.{name}", f"{times} tone wheels on the {described.said(name)}", "one for each shaft")
    crank = next((wheel for wheel in described.wheels if wheel.shaft == CRANK), None)
    for wheel in described.wheels:
        place = f"wheel.{wheel.shaft}"
        yield from _shaft_complaints(described, place, wheel.shaft, (CRANK,))
        yield from _pattern_complaints(wheel, place)
        if wheel.shaft == CRANK and wheel.edges:
            message = "edges by crank angle belong to cam wheels"
            yield Complaint(f"{place}.edges", message, todo="Give a pattern or gaps_deg")
        if wheel.shaft != CRANK and wheel.reference_deg.is_known:
            yield Complaint(f"{place}.reference_deg", "only the crank wheel has one", todo="Give the cam wheel's edges")
        yield from _edge_complaints(wheel, crank, place)


def _pattern_complaints(wheel: ToneWheel, place: str) -> Iterator[Complaint]:
    if wheel.pattern and wheel.gaps_deg:
        yield Complaint(f"{place}.gaps_deg", "there is a pattern too", "a pattern or its gaps, not both")
    try:
        if wheel.pattern:
            parse_wheel(wheel.pattern)
        if wheel.gaps_deg:
            WheelPattern.from_gaps(wheel.gaps_deg)
    except InputError as error:
        key = "pattern" if wheel.pattern else "gaps_deg"
        yield Complaint(f"{place}.{key}", error.message, error.expected or "", error.todo or "")


def _edge_complaints(wheel: ToneWheel, crank: ToneWheel | None, place: str) -> Iterator[Complaint]:
    seen: set[float] = set()
    reference = crank.reference_deg.exact if crank is not None else None
    for i, edge in enumerate(wheel.edges, start=1):
        after, behind = edge.after_tdc_deg.exact, edge.behind_index_deg.exact
        if not edge.after_tdc_deg.is_known and not edge.behind_index_deg.is_known:
            yield Complaint(f"{place}.edges[{i}]", "an edge without an angle", "after_tdc_deg or behind_index_deg")
        if after is not None and after in seen:
            yield Complaint(f"{place}.edges[{i}]", f"two edges at {after:g}°", "each edge once")
        if after is not None:
            seen.add(after)
        if None in (after, behind, reference):
            continue
        assert after is not None and behind is not None and reference is not None
        off = (after - reference - behind + 180.0) % 360.0 - 180.0
        if abs(off) > _EDGE_TOLERANCE_DEG:
            yield Complaint(
                f"{place}.edges[{i}]",
                f"{after:g}° after TDC and {behind:g}° behind an index at {reference:g}° are {abs(off):g}° apart",
                "one angle said in two ways, or only one of them",
            )


def _reporting_complaints(described: Description) -> Iterator[Complaint]:
    named, kinds = described.reporting.a_is, {cam.kind for cam in described.cams}
    if named and kinds and named not in kinds:
        yield Complaint("reporting.a_is", f"this engine has no {named} cam", f"one of {', '.join(sorted(kinds))}")
