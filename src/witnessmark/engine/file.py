"""Reading an engine description: commented TOML in, :class:`~witnessmark.engine.types.Engine` out."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from witnessmark.engine.check import Complaint, Description, complaints
from witnessmark.engine.drive import Phaser, Sprocket, Stage, TimingDrive
from witnessmark.engine.number import Number
from witnessmark.engine.tonewheel import WheelPattern
from witnessmark.engine.types import CamEdge, Camshaft, Engine, Reporting, ToneWheel, cam_id, cam_of_id
from witnessmark.engine.written import INHERITED
from witnessmark.errors import EngineDefinitionError, FormatError, OutOfScope, nearest
from witnessmark.source import UNSTATED, Source
from witnessmark.vocabulary import CAMS

if TYPE_CHECKING:
    from pydantic import BaseModel

    from witnessmark.engine import schema

__all__ = ["engine_from_mapping", "engine_from_toml", "engine_schema", "read_engine"]

_COVERED = "Witnessmark covers four-stroke spark-ignition engines"
_LARGEST_BYTES = 1_000_000


def read_engine(path: str | Path) -> Engine:
    """The engine that a file describes.

    Parameters
    ----------
    path : str or Path
        A TOML file; ``docs/engine-description.md`` explains it.

    Returns
    -------
    Engine

    Raises
    ------
    FormatError
        If the file cannot be read as text or as TOML.
    EngineDefinitionError
        If it says what cannot be, with the place in the file.
    OutOfScope
        For engines that are not covered.
    """
    path = Path(path)
    try:
        data = path.read_bytes() if path.stat().st_size <= _LARGEST_BYTES else None
    except OSError as error:
        raise FormatError(f"cannot be read: {error.strerror}", where=str(path)) from error
    if data is None:
        raise FormatError("too large for an engine description", expected="a small text file", where=path.name)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise FormatError("not plain text", expected="TOML in UTF-8", where=f"{path.name}, line {line}") from error
    return engine_from_toml(text, where=path.name, name=path.stem)


def engine_from_toml(text: str, *, where: str = "", name: str = "") -> Engine:
    """The engine that a TOML text describes.

    Parameters
    ----------
    text : str
    where : str
        Its file, for messages.
    name : str
        Used where the text gives no name.

    Returns
    -------
    Engine

    Raises
    ------
    FormatError
        If it is not TOML.
    EngineDefinitionError
        If it says what cannot be.
    OutOfScope
        For engines that are not covered.
    """
    try:
        given = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise FormatError(f"not TOML: {error}", where=where or None, todo="Look at that line") from error
    return engine_from_mapping(given, where=where, name=name)


def engine_from_mapping(given: Mapping[str, Any], *, where: str = "", name: str = "") -> Engine:
    """The engine that nested tables describe, as TOML or JSON hold them.

    Parameters
    ----------
    given : mapping
    where : str
        Where it stands, for messages: "engine.toml".
    name : str
        Used where the description gives no name.

    Returns
    -------
    Engine

    Raises
    ------
    EngineDefinitionError
        If it says what cannot be: the first thing with its place, and how many more there are.
    OutOfScope
        For engines that are not covered.
    """
    _refuse_others(given, where)
    model = _validated(given, where)
    described, drive_words = _described(model, where)
    found = complaints(described)
    if found:
        raise found[0].error(where, more=len(found) - 1)
    source = UNSTATED if model.source is INHERITED else model.source
    engine = Engine(
        name=model.name or name or f"engine of {model.cylinders} cylinders",
        cylinders=model.cylinders,
        layout=described.layout,
        banks=described.banks,
        firing_order=described.firing_order,
        cams=described.cams,
        drive=_drive(described, drive_words),
        wheels=described.wheels,
        reporting=described.reporting,
        source=source,
        bank_cylinders=described.bank_cylinders,
    )
    return _with_sources(engine, source)


def engine_schema() -> dict[str, Any]:
    """JSON Schema of the description (``docs/schema/engine.schema.json``)."""
    from witnessmark.engine import schema

    return schema.engine_schema()


# ---------------------------------------------------------------- what is not covered


def _refuse_others(given: Mapping[str, Any], where: str) -> None:
    """Engines outside the scope: say so at once, before any smaller complaint."""
    words = {key: str(given.get(key, "")).strip().lower() for key in ("strokes", "ignition", "fuel", "layout")}
    kind = None
    if words["strokes"].startswith("2") or words["strokes"].startswith("two"):
        kind = "Two-stroke engines"
    elif "diesel" in (words["fuel"], words["ignition"], words["layout"]) or words["ignition"] == "compression":
        kind = "Diesel engines"
    elif words["layout"] in ("rotary", "wankel"):
        kind = "Rotary engines"
    if kind:
        raise OutOfScope(f"{where + ': ' if where else ''}{kind} are not covered. {_COVERED}; nothing was guessed.")


# ---------------------------------------------------------------- pydantic's complaints in our words

_TYPES = {
    "int": "a whole number",
    "float": "a number",
    "string": "text in quotes",
    "bool": "true or false",
    "list": "a list in square brackets",
    "model": "a table",
    "dict": "a table",
}


def _validated(given: Mapping[str, Any], where: str) -> schema.EngineFile:
    from pydantic import ValidationError

    from witnessmark.engine.schema import EngineFile

    try:
        return EngineFile.model_validate(dict(given))
    except ValidationError as error:
        found = [_complaint(dict(one), given, EngineFile) for one in error.errors(include_url=False)]
        found.sort(key=lambda complaint: not complaint.message.startswith("no key"))
        raise found[0].error(where, more=len(found) - 1) from None


def _complaint(error: Mapping[str, Any], given: Mapping[str, Any], model: type[BaseModel]) -> Complaint:
    place, kind, context = _path(error["loc"], given), error["type"], error.get("ctx", {})
    if kind == "described":
        return Complaint(place, context["message"], context["expected"] or "", context["todo"] or "")
    if kind == "extra_forbidden":
        key, keys = str(error["loc"][-1]), _keys_at(error["loc"][:-1], model)
        near = nearest(key, keys)
        return Complaint(place, f"no key is called “{key}” here", todo=_hint(near, keys))
    if kind == "missing":
        return Complaint(place, f"“{error['loc'][-1]}” is missing")
    shown = repr(error["input"])
    shown = shown if len(shown) <= 40 else f"{shown[:39]}…"
    if kind == "literal_error":
        choices = re.findall(r"'([^']*)'", context["expected"]) or [context["expected"]]
        near = nearest(str(error["input"]), choices)
        return Complaint(place, f"{shown} cannot be", todo=_hint(near, choices))
    if kind in ("greater_than_equal", "less_than_equal"):
        return Complaint(place, f"{shown} cannot be", f"{'at least' if 'ge' in context else 'at most'} {next(iter(context.values()))}")
    if kind in ("too_short", "too_long"):
        return Complaint(place, f"{context['actual_length']} entries", _length(context))
    if kind == "list_type" and isinstance(error["input"], Mapping):
        key = error["loc"][-1]
        return Complaint(place, f"[{key}] stands in single brackets", f"[[{key}]], for there may be several")
    expected = next((words for start, words in _TYPES.items() if kind.startswith(start)), error["msg"])
    return Complaint(place, f"{shown} cannot be", expected)


def _length(context: Mapping[str, Any]) -> str:
    return f"at least {context['min_length']}" if "min_length" in context else f"at most {context['max_length']}"


def _hint(near: Sequence[str], choices: Sequence[str]) -> str:
    return f"Nearest: {near[0]}" if near else f"One of: {', '.join(choices)}"


def _path(loc: Sequence[str | int], given: object) -> str:
    """Keys joined by points; an entry of a list by its id, shaft or cam, else by its number."""
    path, here = "", given
    for step in loc:
        try:
            here = here[step]  # type: ignore[index]
        except (KeyError, IndexError, TypeError):
            here = None
        if isinstance(step, int):
            named = [here[key] for key in ("id", "shaft", "cam") if key in here] if isinstance(here, Mapping) else []
            path += f".{named[0]}" if named and isinstance(named[0], str) else f"[{step + 1}]"
        else:
            path += f".{step}" if path else step
    return path


def _keys_at(loc: Sequence[str | int], model: type[BaseModel]) -> list[str]:
    """The keys that a table at this place may have."""
    from pydantic import BaseModel

    here = model
    for step in loc:
        if isinstance(step, str):
            annotation = here.model_fields[step].annotation
            inner = [annotation, *getattr(annotation, "__args__", ())]
            here = next(one for one in inner if isinstance(one, type) and issubclass(one, BaseModel))
    return list(here.model_fields)


# ---------------------------------------------------------------- from the file's tables to our types


def _described(model: schema.EngineFile, where: str) -> tuple[Description, str]:
    banks, lists = _banks(model)
    names = _Names(_several_banks(model, banks), where)
    stages = tuple(_stage(one, names) for one in model.stage)
    described = Description(
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
    )
    return described, model.drive or _drive_words(stages)


def _banks(model: schema.EngineFile) -> tuple[int | None, tuple[tuple[int, ...], ...]]:
    if isinstance(model.banks, tuple):
        return len(model.banks), model.banks
    by_layout = {"inline": 1, "vee": 2, "flat": 2}.get(model.layout or "")
    return (model.banks if model.banks is not None else by_layout), ()


def _several_banks(model: schema.EngineFile, banks: int | None) -> bool:
    """Whether "intake" alone would leave the bank open."""
    if banks is not None:
        return banks > 1
    shafts = [s.shaft for stage in model.stage for s in (stage.driver, *stage.driven)]
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
            raise Complaint(
                place, f"“{name}” leaves the bank open", f"{cam_id(1, name)} or {cam_id(2, name)}"
            ).error(self.where)
        return cam_id(1, name)


def _cams(
    model: schema.EngineFile, stages: Sequence[Stage], banks: int | None, where: str
) -> tuple[Camshaft, ...]:
    if not model.cams:
        driven = (cam_of_id(s.shaft) for stage in stages for s in stage.driven)
        return tuple(sorted((cam for cam in driven if cam), key=lambda cam: (cam.bank, CAMS.index(cam.kind))))
    count = banks if banks is not None else _banks_seen(model, where)
    found: list[Camshaft] = []
    for name in model.cams:
        cam = cam_of_id(name)
        if cam is None and name not in CAMS:
            near = nearest(name, [*CAMS, *(cam_id(b, kind) for b in range(1, (count or 1) + 1) for kind in CAMS)])
            raise Complaint("cams", f"no cam is called “{name}”", todo=_hint(near, CAMS)).error(where)
        found += [cam] if cam else [Camshaft(bank, name) for bank in range(1, count + 1)]
    return tuple(found)


def _banks_seen(model: schema.EngineFile, where: str) -> int:
    """How many banks a description speaks of that does not count them; one where five cylinders or fewer."""
    several = _several_banks(model, None)
    if not several and model.cylinders > 5 and not model.stage and any(name in CAMS for name in model.cams):
        raise Complaint(
            "cams", f"{model.cylinders} cylinders in one bank or two?", todo='Say layout = "inline", "vee" or "flat"'
        ).error(where)
    return 2 if several else 1


def _stage(one: schema.StageFile, names: _Names) -> Stage:
    place = f"stage.{one.id}"
    counted = {None: 0, "neither": 0, "one": 1, "both": 2}[one.pins_counting]
    driver, *driven = (
        _sprocket(sprocket, names, f"{place}.{'driver' if i == 0 else 'driven'}", counted)
        for i, sprocket in enumerate((one.driver, *one.driven))
    )
    if one.pins_counting is None and any(sprocket.pins_before.is_known for sprocket in driven):
        raise Complaint(
            f"{place}.pins_counting", "pins were counted, it is not said how", "neither, one or both marked pins"
        ).error(names.where)
    return Stage(
        id=one.id,
        kind=one.kind,
        driver=driver,
        driven=tuple(driven),
        pitch_mm=one.pitch_mm,
        links=one.links,
        pins=_pins_from_driver(driven),
        tensioner_rest_mm=one.tensioner_rest_mm,
    )


def _sprocket(one: schema.SprocketFile, names: _Names, place: str, counted: int) -> Sprocket:
    at = (one.at_mm[0], one.at_mm[1]) if one.at_mm is not None else None
    pins = one.pins
    if counted and pins.is_known:
        ends = (pins.low - counted, pins.high - counted) if pins.low is not None and pins.high is not None else (None, None)
        pins = replace(pins, values=tuple(v - counted for v in pins.values), low=ends[0], high=ends[1])
    return Sprocket(names.shaft(one.shaft, place), one.teeth, one.tight_mm, at, one.keyed, pins)


def _pins_from_driver(driven: Sequence[Sprocket]) -> tuple[tuple[str, Number], ...]:
    """Counts between neighbouring marks, added up from the driver's mark as far as they are exact.

    n pins between, neither counted, are n + 1 pitches (HANDBOOK §1).
    """
    found, pitches = [], 0.0
    for sprocket in driven:
        pins = sprocket.pins_before
        if not pins.is_known or (pins.exact is None and pitches):
            break
        total = Number.exactly(pitches + (pins.exact or 0.0), pins.source) if pins.exact is not None else pins
        found.append((sprocket.shaft, total))
        if pins.exact is None:
            break
        pitches += pins.exact + 1.0
    return tuple(found)


def _wheel(one: schema.WheelFile, names: _Names) -> ToneWheel:
    shaft = names.shaft(one.shaft, f"wheel.{one.shaft}")
    return ToneWheel(
        id=shaft,
        shaft=shaft,
        pattern=one.pattern,
        gaps_deg=_turned(one.gaps_deg or ()),
        even_edge=one.even_edge,
        reference_deg=one.reference_deg,
        edges=tuple(
            CamEdge(
                None if edge.edge is None else edge.edge == "rising", edge.behind_index_deg, edge.after_tdc_deg
            )
            for edge in one.edges
        ),
        keyed=one.keyed,
        sensor_kind=one.sensor_kind,
        sensor_names=tuple(one.sensor_names),
    )


def _turned(gaps: Sequence[float]) -> tuple[float, ...]:
    """The gaps from the index edge on; as they stand where they make no wheel, for the check to see."""
    try:
        return WheelPattern.from_gaps(gaps).gaps_deg if gaps else ()
    except EngineDefinitionError:
        return tuple(gaps)


def _drive(described: Description, words: str) -> TimingDrive | None:
    if not described.stages and not described.phasers:
        return None
    return TimingDrive(described.stages, words, described.phasers)


def _drive_words(stages: Sequence[Stage]) -> str:
    if not stages:
        return ""
    return "; ".join(f"{stage.kind} from {stage.driver.shaft} to {_and(s.shaft for s in stage.driven)}" for stage in stages)


def _and(names: Iterator[str]) -> str:
    *first, last = names
    return f"{', '.join(first)} and {last}" if first else last


# ---------------------------------------------------------------- sources

_T = TypeVar("_T")


def _with_sources(part: _T, source: Source) -> _T:
    """The same with every number's source filled in that named none of its own."""
    if isinstance(part, Number):
        return replace(part, source=source) if part.source is INHERITED else part
    if isinstance(part, tuple):
        return tuple(_with_sources(one, source) for one in part)  # type: ignore[return-value]
    if isinstance(part, Engine | TimingDrive | Stage | Sprocket | Phaser | ToneWheel | CamEdge | Reporting):
        names = [name for name in part.__dataclass_fields__ if name != "source"]
        return replace(part, **{name: _with_sources(getattr(part, name), source) for name in names})
    return part

