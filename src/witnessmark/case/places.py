"""Places as people name them, held against the closed lists and against the engine at hand."""

from __future__ import annotations

import re

from witnessmark.engine.drive import CRANK
from witnessmark.engine.types import Engine, cam_id
from witnessmark.errors import InputError, one_of
from witnessmark.vocabulary import CAMS, Place, Quantity

__all__ = ["GASES", "LEARNT_ITEMS", "SENSORS", "banks_of", "check_did", "check_place", "comparable"]

LEARNT_ITEMS = ("cam_zero", "crank_variation", "throttle_zero", "fuel_trim")
GASES = ("O2", "CO", "CO2", "HC")
SENSORS = (
    "crank",
    "cam",
    "maf",
    "map",
    "ect",
    "iat",
    "o2_front",
    "o2_rear",
    "throttle_sensor",
    "pedal",
    "knock",
    "rail",
)
_MOST_BANKS = 2
_CAM_ID = re.compile(r"b([1-9])\.(\w+)")
_COUNTED = re.compile(r"[._]?b?\d+$")  # o2_front_2, knock1: several of one kind


def banks_of(engine: Engine) -> int | None:
    """How many banks, where the description says so or its layout leaves no choice."""
    if engine.banks is not None:
        return engine.banks
    return 1 if engine.layout == "inline" else None


def check_place(place: Place, kind: Quantity, engine: Engine | None) -> None:
    """Refuse a place that nothing can be at, or that this engine does not have.

    Parameters
    ----------
    place : Place
    kind : Quantity
        What was read there.
    engine : Engine, optional

    Raises
    ------
    InputError
        Says what the engine has.
    """
    for key in kind.keys:
        if place.get(key) is None:
            raise InputError(f"{kind.name}: which {key.replace('_', ' ')}?", expected=_choices(key, kind.zones))
    for key, words in (("learnt_item", LEARNT_ITEMS), ("gas", GASES), ("zone", kind.zones), ("word", kind.words)):
        value = place.get(key)
        if value is not None and value not in words:
            raise one_of(key.replace("_", " "), str(value), words)
    sensor = place.get("sensor")
    if sensor is not None and _COUNTED.sub("", str(sensor)) not in SENSORS:
        raise one_of("sensor", str(sensor), SENSORS)
    if place.get("cam") is not None and place.get("cam") == place.get("other_cam") and _one_bank(place):
        raise InputError(f"{kind.name} needs two cams, not {place.get('cam')} twice", given=str(place))
    for key in ("wheel", "position"):
        if place.get(key) is not None:
            _check_wheel(key, str(place.get(key)), engine)
    if engine is not None:
        _check_engine(place, engine)


def comparable(place: Place, kind: Quantity) -> Place:
    """The place with bank 1 written out where a cam was named without its bank."""
    if "bank" in kind.optional and place.get("bank") is None and place.get("cam") is not None:
        return place.with_keys(bank=1)
    return place


def _one_bank(place: Place) -> bool:
    return place.get("other_bank") in (None, place.get("bank") or 1)


def _choices(key: str, zones: tuple[str, ...] = ()) -> str:
    words = {
        "cam": CAMS,
        "other_cam": CAMS,
        "learnt_item": LEARNT_ITEMS,
        "gas": GASES,
        "sensor": SENSORS,
        "wheel": (CRANK, cam_id(1, "intake"), cam_id(1, "exhaust")),
        "position": (CRANK, cam_id(1, "intake"), cam_id(1, "exhaust")),
        "cylinder": ("1", "2"),
        "code": ("P0016",),
        "zone": zones,
    }.get(key)
    if words is None:
        return f"{key}=…"
    shown = [f"{key}={word}" for word in words[:6]]
    last = " or " if len(words) <= 6 else ", "
    return ", ".join(shown[:-1]) + (last if len(shown) > 1 else "") + shown[-1] + (" …" if len(words) > 6 else "")


def _check_wheel(key: str, name: str, engine: Engine | None) -> None:
    if name == CRANK:
        return
    described = tuple(cam.id for cam in engine.cams) if engine else ()
    found = _CAM_ID.fullmatch(name)
    if described:
        if name not in described:
            raise one_of(key, name, (CRANK, *described))
    elif name in CAMS:
        raise InputError(f"No {key} is called “{name}”", given=name, todo=f"Nearest: {cam_id(1, name)}")
    elif found is None or found[2] not in CAMS:
        usual = (CRANK, *(cam_id(bank, kind) for bank in (1, 2) for kind in CAMS))
        raise one_of(key, name, usual)
    elif engine is not None:
        _check_bank(int(found[1]), engine)


def _check_engine(place: Place, engine: Engine) -> None:
    cylinder = place.get("cylinder")
    if cylinder is not None and int(cylinder) > engine.cylinders:
        raise InputError(f"Cylinder {cylinder}: this engine has {engine.cylinders}", given=f"cylinder={cylinder}")
    for key in ("bank", "other_bank"):
        bank = place.get(key)
        if bank is not None:
            _check_bank(int(bank), engine)
    if place.get("cam") is not None:
        engine.cam_at(place)
    if place.get("other_cam") is not None:
        engine.cam_at(place, key="other_cam", bank_key="other_bank")


def _check_bank(bank: int, engine: Engine) -> None:
    banks = banks_of(engine)
    if banks == 1 and bank > 1:
        raise InputError(f"Bank {bank}: an in-line engine has one", given=f"bank={bank}")
    if bank > (banks or _MOST_BANKS):
        has = f"this engine has {banks}" if banks else f"more than {_MOST_BANKS} banks are not covered"
        raise InputError(f"Bank {bank}: {has}", given=f"bank={bank}")


def check_did(place: Place, engine: Engine | None) -> None:
    """Refuse a place of work that this engine does not have.

    Parameters
    ----------
    place : Place
    engine : Engine, optional

    Raises
    ------
    InputError
        Says what the engine has.
    """
    if engine is not None:
        _check_engine(place, engine)
