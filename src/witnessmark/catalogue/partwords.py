"""Parts of an engine in words, by the ids that states, findings and supply graphs give them."""

from __future__ import annotations

import re
from collections.abc import Mapping

from witnessmark.catalogue.driveplaces import shaft_words
from witnessmark.engine.drive import CRANK
from witnessmark.engine.types import Engine

__all__ = ["part_words"]

_ONE: Mapping[str, str] = {
    "maf": "air meter",
    "map": "manifold pressure sensor",
    "ect": "coolant temperature sensor",
    "iat": "intake air temperature sensor",
    "throttle_sensor": "throttle position sensor",
    "pedal": "pedal sensor",
    "knock": "knock sensor",
    "rail": "rail pressure sensor",
    "boost": "boost pressure sensor",
    "air_filter": "air filter",
    "intake_duct": "intake duct",
    "charge_pipe": "charge pipe",
    "charge_cooler": "charge cooler",
    "plenum": "plenum",
    "servo": "brake servo hose",
    "branch": "vacuum hose",
    "crankcase": "crankcase",
    "tail": "tail pipe",
    "fuel_filter": "fuel filter",
    "tank_vent": "tank vent",
    "pickup": "oil pickup",
    "gallery": "oil gallery",
    "throttle": "throttle",
    "purge": "purge valve",
    "pcv": "crankcase ventilation valve",
    "egr": "exhaust recirculation valve",
    "wastegate": "wastegate",
    "pump": "fuel pump",
    "high_pump": "high-pressure pump",
    "regulator": "fuel pressure regulator",
    "alternator": "alternator",
    "starter": "starter",
    "battery": "battery",
    "ecu": "engine computer",
    "gearbox": "gearbox computer",
    "ref_a": "5 V supply A",
    "ref_b": "5 V supply B",
    "o2_front": "oxygen sensor ahead of the catalyst",
    "o2_rear": "oxygen sensor behind the catalyst",
    "crank_variation": "crank wheel’s variation",
    "throttle_zero": "throttle’s rest",
}
_OF_CYLINDER: Mapping[str, str] = {
    "cylinder": "cylinder {n}",
    "coil": "coil of cylinder {n}",
    "plug": "plug of cylinder {n}",
    "boot": "boot of cylinder {n}",
    "injector": "injector of cylinder {n}",
    "runner": "runner of cylinder {n}",
    "port": "intake port of cylinder {n}",
}
_OF_BANK: Mapping[str, str] = {
    "bank": "",
    "exhaust_front": "front pipe",
    "catalyst": "catalyst",
    "o2_front": "oxygen sensor ahead of the catalyst",
    "o2_rear": "oxygen sensor behind the catalyst",
}
_COUNTED = re.compile(r"([a-z][a-z0-9_]*?)_(\d+)")
_OF_CAM = re.compile(r"(oil_valve|cam)_b(\d+)_(\w+)")


def part_words(engine: Engine, part: str) -> str:
    """A part in words, without an article: "coil of cylinder 3", "oxygen sensor ahead of the catalyst, bank 2".

    Parameters
    ----------
    engine : Engine
        Says whether banks need naming.
    part : str
        Id of a place of the state, of a sensor, duct or actuator of a finding, or of a node of the supply graph.

    Returns
    -------
    str
        What has no words of its own keeps its id, with blanks for "_".
    """
    if part in _ONE:
        return _ONE[part]
    of_cam = _OF_CAM.fullmatch(part)
    if of_cam is not None:
        what = "oil valve of the" if of_cam[1] == "oil_valve" else "sensor of the"
        return f"{what} {shaft_words(engine, f'b{of_cam[2]}.{of_cam[3]}')}"
    counted = _COUNTED.fullmatch(part)
    if counted is not None and counted[1] in _OF_CYLINDER:
        return _OF_CYLINDER[counted[1]].format(n=counted[2])
    if counted is not None and counted[1] in _OF_BANK:
        return _of_bank(engine, counted[1], counted[2])
    if part == CRANK or re.fullmatch(r"b\d+\.\w+", part):
        return f"{shaft_words(engine, part)} sensor"
    return part.replace("_", " ")


def _of_bank(engine: Engine, what: str, bank: str) -> str:
    several = (engine.banks or 1) > 1
    if not _OF_BANK[what]:
        return f"bank {bank}" if several else "the engine"
    return f"{_OF_BANK[what]}, bank {bank}" if several else _OF_BANK[what]
