"""Places of the timing drive, its wheels and sensors: every chain, mesh, wheel, sensor … of the engine's own graph."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from witnessmark.catalogue.placeof import PlaceOf
from witnessmark.engine.drive import CRANK, Stage
from witnessmark.engine.types import Engine

__all__ = ["BUILDERS", "shaft_words", "stage_words"]


def stage_words(engine: Engine, stage: Stage) -> str:
    """ "primary chain", "belt", "second chain, bank 2".

    Parameters
    ----------
    engine : Engine
    stage : Stage

    Returns
    -------
    str
    """
    stages = engine.drive.stages if engine.drive else ()
    if stage.kind == "belt" and len(stages) == 1:
        return "timing belt"
    if len(stages) == 1:
        return f"timing {stage.kind}"
    return f"{stage.id.replace('_', ' ')} {stage.kind}"


def shaft_words(engine: Engine, shaft: str) -> str:
    """ "crank", "intake cam", "exhaust cam of bank 2", "idler".

    Parameters
    ----------
    engine : Engine
    shaft : str

    Returns
    -------
    str
    """
    if shaft == CRANK:
        return "crank"
    if shaft.startswith("b") and "." in shaft:
        bank, kind = shaft[1:].split(".", 1)
        name = "cam" if kind == "single" else f"{kind} cam"
        return name if (engine.banks or 1) == 1 else f"{name} of bank {bank}"
    return shaft.replace("_", " ")


def _zones_of(shaft: str) -> frozenset[str]:
    if shaft == CRANK:
        return frozenset({"crank_front"})
    return frozenset({"cam_end"})


def _stages(engine: Engine, kinds: tuple[str, ...]) -> list[Stage]:
    assert engine.drive is not None
    return [stage for stage in engine.drive.stages if stage.kind in kinds]


def _chains(engine: Engine) -> list[PlaceOf]:
    return [_stage_place(engine, stage, "chain") for stage in _stages(engine, ("chain",))]


def _all_stages(engine: Engine) -> list[PlaceOf]:
    return [_stage_place(engine, stage, "stage") for stage in _stages(engine, ("chain", "belt", "gear"))]


def _stage_place(engine: Engine, stage: Stage, key: str) -> PlaceOf:
    words = stage_words(engine, stage)
    zones = frozenset({"chain"})
    return PlaceOf(key, stage.id, words, stage.id, f"the {words}", zones, (("self", (stage.id,)),))


def _meshes(engine: Engine) -> list[PlaceOf]:
    found = []
    for stage in _stages(engine, ("chain", "belt")):
        words = stage_words(engine, stage)
        for sprocket in stage.sprockets:
            mesh = stage.mesh(sprocket.shaft)
            name = f"{words} at the {shaft_words(engine, sprocket.shaft)}"
            ids = (("self", (mesh,)), ("chain_of_mesh", (stage.id,)))
            zones = frozenset({"chain"}) | (_zones_of(sprocket.shaft) - {"crank_front"})
            found.append(PlaceOf("mesh", mesh, name, stage.id, f"the {words}", zones, ids))
    return found


def _sprockets(engine: Engine) -> list[PlaceOf]:
    found = []
    stages = _stages(engine, ("chain", "belt", "gear"))
    met = [sprocket.shaft for stage in stages for sprocket in stage.sprockets]
    for stage in stages:
        for sprocket in stage.sprockets:
            mesh = stage.mesh(sprocket.shaft)
            words = f"{shaft_words(engine, sprocket.shaft)} sprocket"
            if met.count(sprocket.shaft) > 1:
                words = f"{words} of the {stage_words(engine, stage)}"
            elif sprocket.shaft != CRANK and not _is_cam(sprocket.shaft):
                words = f"{sprocket.shaft.replace('_', ' ')} sprocket of the {stage_words(engine, stage)}"
            zones, ids = _zones_of(sprocket.shaft), (("self", (mesh,)),)
            found.append(PlaceOf("sprocket", mesh, words, mesh, f"the {words}", zones, ids, keyed=sprocket.keyed))
    return found


def _is_cam(shaft: str) -> bool:
    return shaft.startswith("b") and "." in shaft


def _cams(engine: Engine) -> list[PlaceOf]:
    return [_cam_place(engine, "cam", cam.id, frozenset({"cam_end"})) for cam in engine.cams]


def _oil_valves(engine: Engine) -> list[PlaceOf]:
    return [_cam_place(engine, "oil_valve", cam.id, frozenset({"oil_valve"})) for cam in engine.cams]


def _cam_zeros(engine: Engine) -> list[PlaceOf]:
    if engine.reporting.learns is False:
        return []
    found = [_cam_place(engine, "cam_zero", cam.id, frozenset({"computer"})) for cam in engine.cams]
    zeros: list[tuple[str, str, tuple[str, ...]]] = [(p.id, p.words, (f"cam_zero:{p.id}",)) for p in found]
    if len(zeros) > 1:  # a computer reset or exchanged forgets all of them alike
        zeros.append(("all", "all cams", tuple(target for _, _, targets in zeros for target in targets)))
    near = frozenset({"computer"})
    return [PlaceOf("cam_zero", name, words, "all", "the cams", near, (("self", ids),)) for name, words, ids in zeros]


def _cam_place(engine: Engine, key: str, cam: str, zones: frozenset[str]) -> PlaceOf:
    assert engine.drive is not None
    phaser = engine.drive.phaser(cam)
    words = f"the {shaft_words(engine, cam)}"
    needs_phaser = key in ("cam", "oil_valve")
    presence = phaser.presence if phaser is not None and needs_phaser else 1.0
    reach = phaser.range_deg.mean if phaser is not None else None
    if phaser is not None and reach is None:
        reach = 50.0 if cam.endswith("intake") else -45.0
    return PlaceOf(key, cam, words, cam, words, zones, (("self", (cam,)),), presence, reach)


def _wheels(engine: Engine) -> list[PlaceOf]:
    found = []
    for wheel in _wheel_ids(engine):
        described = engine.wheel(wheel)
        keyed = described.keyed if described is not None else None
        words = f"{shaft_words(engine, wheel)} wheel"
        ids = (("self", (wheel,)),)
        found.append(PlaceOf("wheel", wheel, words, wheel, f"the {words}", _zones_of(wheel), ids, keyed=keyed))
    return found


def _positions(engine: Engine) -> list[PlaceOf]:
    found = []
    for wheel in _wheel_ids(engine):
        words = f"{shaft_words(engine, wheel)} sensor"
        zone = "crank_sensor" if wheel == CRANK else "cam_sensor"
        found.append(PlaceOf("sensor", wheel, words, wheel, f"the {words}", frozenset({zone}), (("self", (wheel,)),)))
    return found


def _wheel_ids(engine: Engine) -> list[str]:
    if engine.wheels:
        return [wheel.id for wheel in engine.wheels]
    return [CRANK, *(cam.id for cam in engine.cams)]


def _banks(engine: Engine) -> list[PlaceOf]:
    found = []
    for bank in range(1, (engine.banks or 1) + 1):
        pair = tuple(cam.id for cam in engine.cams if cam.bank == bank)
        if len(pair) == 2:
            words = "the cams" if (engine.banks or 1) == 1 else f"the cams of bank {bank}"
            ids = (("self", pair), ("both_cams", pair))
            found.append(PlaceOf("bank", str(bank), words, f"bank_{bank}", words, frozenset({"cam_end"}), ids))
    return found


BUILDERS: Mapping[str, Callable[[Engine], list[PlaceOf]]] = {
    "chain": _chains,
    "stage": _all_stages,
    "mesh": _meshes,
    "span": _chains,
    "sprocket": _sprockets,
    "cam": _cams,
    "oil_valve": _oil_valves,
    "cam_zero": _cam_zeros,
    "wheel": _wheels,
    "position": _positions,
    "bank": _banks,
}
"""Kinds of place, by what the fault files call them."""
