"""Writing an engine back as a description: what ``file`` reads gives the same engine again.

Remarks of a file that was read are not kept; a named engine's own text is ``library.engine_text``.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence

from witnessmark.engine.breathing import AirPath, CylinderSizes, ValveTiming
from witnessmark.engine.drive import Phaser, Roller, Sprocket, Stage
from witnessmark.engine.number import Number
from witnessmark.engine.supply import USUAL_PARTS, SupplyGraph, SupplyNode
from witnessmark.engine.types import CamEdge, Engine, Reporting, ToneWheel
from witnessmark.engine.written import parse_source
from witnessmark.source import UNSTATED, Source

__all__ = ["write_engine"]

_BANKS = {"inline": 1, "vee": 2, "flat": 2}


def write_engine(engine: Engine) -> str:
    """An engine as TOML.

    Parameters
    ----------
    engine : Engine

    Returns
    -------
    str
        Read with :func:`witnessmark.engine.file.engine_from_toml` it gives the same engine; a drive without words gets
        some.
    """
    blocks = [_block("", _head(engine))]
    if engine.drive is not None:
        blocks += [_block("[[stage]]", _stage(stage, engine.source)) for stage in engine.drive.stages]
        blocks += [_block("[[phaser]]", _phaser(cam, one, engine.source)) for cam, one in engine.drive.phasers]
    blocks += [_block("[[wheel]]", _wheel(wheel, engine.source)) for wheel in engine.wheels]
    reporting = dict(_reporting(engine.reporting, engine.source))
    if reporting:
        blocks.append(_block("[reporting]", reporting.items()))
    breathing = engine.breathing
    parts: list[tuple[str, CylinderSizes | ValveTiming | AirPath]] = [("cylinder", breathing.cylinder)]
    parts += [(f"valves.{valve.kind}", valve) for valve in breathing.valves]
    for heading, part in [*parts, ("air", breathing.air)]:
        pairs = dict(_said(part, engine.source))
        if pairs:
            blocks.append(_block(f"[{heading}]", pairs.items()))
    if engine.supply is not None:
        blocks.append(_block("[supply]", _supply(engine.supply, engine)))
    return "\n".join(blocks)


def _block(heading: str, pairs: Iterable[tuple[str, str]]) -> str:
    lines = [f"{key} = {value}\n" for key, value in pairs]
    return (f"{heading}\n" if heading else "") + "".join(lines)


def _head(engine: Engine) -> Iterator[tuple[str, str]]:
    yield "name", _text(engine.name)
    yield "cylinders", str(engine.cylinders)
    if engine.layout:
        yield "layout", _text(engine.layout)
    if engine.bank_cylinders:
        yield "banks", str([list(bank) for bank in engine.bank_cylinders])
    elif engine.banks is not None and engine.banks != _BANKS.get(engine.layout or ""):
        yield "banks", str(engine.banks)
    if engine.firing_order:
        yield "firing_order", str(list(engine.firing_order))
    if engine.cams:
        yield "cams", _texts([cam.id for cam in engine.cams])
    if engine.drive is not None and engine.drive.label:
        yield "drive", _text(engine.drive.label)
    if engine.source != UNSTATED:
        yield "source", _text(_source(engine.source))


def _stage(stage: Stage, source: Source) -> Iterator[tuple[str, str]]:
    pins = _pins_before(stage)
    yield "id", _text(stage.id)
    yield "kind", _text(stage.kind)
    for key, number in (("pitch_mm", stage.pitch_mm), ("links", stage.links)):
        yield from _number(key, number, source)
    yield from _number("tensioner_rest_mm", stage.tensioner_rest_mm, source)
    if any(number.is_known for number in pins.values()):
        yield "pins_counting", _text("neither")
    yield "driver", _table(_sprocket(stage.driver, {}, source))
    driven = [f"  {_table(_sprocket(sprocket, pins, source))},\n" for sprocket in stage.driven]
    yield "driven", "[\n" + "".join(driven) + "]"
    if stage.rollers:
        yield "rollers", "[\n" + "".join(f"  {_table(_roller(one, source))},\n" for one in stage.rollers) + "]"


def _pins_before(stage: Stage) -> dict[str, Number]:
    """Pins from mark to mark, as described, else from the counts that begin at the driver."""
    found = {sprocket.shaft: sprocket.pins_before for sprocket in stage.driven}
    if any(number.is_known for number in found.values()):
        return found
    counts, before = dict(stage.pins), -1.0
    for sprocket in stage.driven:
        number = counts.get(sprocket.shaft)
        if number is None or number.exact is None:
            break
        found[sprocket.shaft] = Number.exactly(number.exact - before - 1.0, number.source)
        before = number.exact
    return found


def _sprocket(sprocket: Sprocket, pins: Mapping[str, Number], source: Source) -> Iterator[tuple[str, str]]:
    yield "shaft", _text(sprocket.shaft)
    yield from _number("teeth", sprocket.teeth, source)
    yield from _number("tight_mm", sprocket.tight_mm, source)
    if sprocket.shaft in pins:
        yield from _number("pins", pins[sprocket.shaft], source)
    yield from _centre(sprocket.at_mm)
    yield from _flag("keyed", sprocket.keyed)


def _roller(roller: Roller, source: Source) -> Iterator[tuple[str, str]]:
    yield "id", _text(roller.id)
    yield "kind", _text(roller.kind)
    yield "after", _text(roller.after)
    yield from _centre(roller.at_mm)
    yield from _number("diameter_mm", roller.diameter_mm, source)
    if not roller.back:
        yield "back", "false"


def _centre(at_mm: tuple[float, float] | None) -> Iterator[tuple[str, str]]:
    if at_mm is not None:
        yield "at_mm", f"[{', '.join(map(_plain, at_mm))}]"


def _phaser(cam: str, phaser: Phaser, source: Source) -> Iterator[tuple[str, str]]:
    yield "cam", _text(cam)
    yield from _number("range_deg", phaser.range_deg, source)
    if phaser.presence != 1.0:
        yield "fitted", "false" if phaser.presence == 0.0 else _plain(phaser.presence)


def _wheel(wheel: ToneWheel, source: Source) -> Iterator[tuple[str, str]]:
    yield "shaft", _text(wheel.shaft)
    if wheel.pattern:
        yield "pattern", _text(wheel.pattern)
    if wheel.gaps_deg:
        yield "gaps_deg", f"[{', '.join(map(_plain, wheel.gaps_deg))}]"
    if wheel.even_edge:
        yield "even_edge", _text(wheel.even_edge)
    yield from _number("reference_deg", wheel.reference_deg, source)
    yield from _flag("keyed", wheel.keyed)
    if wheel.sensor_kind:
        yield "sensor_kind", _text(wheel.sensor_kind)
    if wheel.sensor_names:
        yield "sensor_names", _texts(wheel.sensor_names)
    if wheel.edges:
        yield "edges", "[\n" + "".join(f"  {_table(_edge(edge, source))},\n" for edge in wheel.edges) + "]"


def _edge(edge: CamEdge, source: Source) -> Iterator[tuple[str, str]]:
    if edge.rising is not None:
        yield "edge", _text("rising" if edge.rising else "falling")
    yield from _number("after_tdc_deg", edge.after_tdc_deg, source)
    yield from _number("behind_index_deg", edge.behind_index_deg, source)


def _reporting(reporting: Reporting, source: Source) -> Iterator[tuple[str, str]]:
    yield from _number("sign", reporting.sign, source)
    if reporting.a_is:
        yield "a_is", _text(reporting.a_is)
    if reporting.value:
        yield "value", _text(reporting.value)
    yield from _flag("learns", reporting.learns)
    yield from _number("correlation_limit_deg", reporting.correlation_limit_deg, source)


def _said(part: CylinderSizes | ValveTiming | AirPath, source: Source) -> Iterator[tuple[str, str]]:
    """Numbers and words of a part, under the names of its fields."""
    for name in part.__dataclass_fields__:
        value = getattr(part, name)
        if isinstance(value, Number):
            yield from _number(name, value, source)
        elif value is not None and name != "kind":
            yield name, _text(value)


def _supply(graph: SupplyGraph, engine: Engine) -> Iterator[tuple[str, str]]:
    if graph.name != engine.name:
        yield "name", _text(graph.name)
    if graph.parts != USUAL_PARTS:
        yield "parts", _texts(graph.parts)
    if graph.source != engine.source:
        yield "source", _text(_source(graph.source))
    yield "node", "[\n" + "".join(f"  {_table(_node(one, graph.source))},\n" for one in graph) + "]"


def _node(node: SupplyNode, source: Source) -> Iterator[tuple[str, str]]:
    for name in node.__dataclass_fields__:
        value = getattr(node, name)
        if isinstance(value, Number):
            yield from _number(name, value, source)
        elif value:
            yield "from" if name == "feed" else name, _texts(value) if isinstance(value, tuple) else _text(value)


def _number(key: str, number: Number, default: Source) -> Iterator[tuple[str, str]]:
    """The number as briefly as it can be said; nothing where it is not known."""
    if not number.is_known:
        return
    shape: list[tuple[str, str]]
    if number.exact is not None:
        if number.source == default:
            yield key, _plain(number.exact)
            return
        shape = [("value", _plain(number.exact))]
    elif number.values:
        shape = [("among", f"[{', '.join(map(_plain, number.values))}]")]
        if len(set(number.weights)) > 1:
            shape.append(("odds", f"[{', '.join(map(_plain, number.weights))}]"))
    else:
        assert number.low is not None and number.high is not None
        shape = [("between", f"[{_plain(number.low)}, {_plain(number.high)}]")]
    if number.source != default:
        shape.append(("source", _text(_source(number.source))))
    yield key, _table(iter(shape))


def _source(source: Source) -> str:
    """The briefest text that names this source."""
    spellings = (source.kind, source.text, f"{source.kind}: {source.text}")
    return next((text for text in spellings if text and parse_source(text) == source), spellings[-1])


def _flag(key: str, flag: bool | None) -> Iterator[tuple[str, str]]:
    if flag is not None:
        yield key, "true" if flag else "false"


def _table(pairs: Iterator[tuple[str, str]]) -> str:
    return "{" + ", ".join(f"{key} = {value}" for key, value in pairs) + "}"


def _plain(value: float) -> str:
    return str(int(value)) if value == int(value) else repr(float(value))


def _text(text: str) -> str:
    """A TOML string: JSON's escapes are TOML's, but for the delete character."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _texts(texts: Sequence[str]) -> str:
    return f"[{', '.join(map(_text, texts))}]"
