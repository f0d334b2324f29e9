"""What was looked at, in words: quantities at their places, conditions, where a finding comes from."""

from __future__ import annotations

import re

from witnessmark.case.reported import ReportedCode
from witnessmark.catalogue.codes import Code, codes, is_makers
from witnessmark.catalogue.driveplaces import shaft_words, stage_words
from witnessmark.catalogue.partwords import part_words
from witnessmark.engine.intervention import interventions
from witnessmark.engine.types import Engine, cam_id
from witnessmark.finding import Finding, Provenance
from witnessmark.predict.codenames import bank_meant, meant
from witnessmark.report.phrases import PHRASES
from witnessmark.report.words import NBSP, at_start, estimate, listed, number
from witnessmark.vocabulary import Condition, Place, quantity

__all__ = [
    "ANGLES",
    "code_of",
    "complaint_words",
    "condition_words",
    "is_typed",
    "origin",
    "quantity_words",
    "reading",
    "side_of",
    "stage_or_shaft",
    "state_words",
    "value_words",
    "valve_words",
    "wheel_words",
]

# Differences from what is described, + = early: these share one axis. (tdc_offset + = the piston after the wheel,
# which is the wheel before the piston.)
ANGLES = (
    "cam_phase_error",
    "cam_separation",
    "cam_phase_change",
    "cam_deviation",
    "wheel_angle_seen",
    "tdc_offset",
)

_STATES = {
    "off": "engine off",
    "key_on": "key on",
    "cranking": "cranking",
    "warm_up": "warming up",
    "idle": "idle",
    "raised": "raised idle",
    "cruise": "cruising",
    "acceleration": "accelerating",
    "full_load": "full load",
    "snap": "snap throttle",
    "overrun": "overrun",
}
_MEGOHM_FROM = 1e5
_GRADE_WORDS = ("no", "slightly", "plainly", "grossly")
_DENYING = ("clean", "dry", "none")
_BARE_NUMBERS = ("count", "pin", "tooth")


def wheel_words(engine: Engine, wheel: str) -> str:
    """ "crank wheel", "wheel of the intake cam"."""
    return "crank wheel" if wheel == "crank" else f"wheel of the {shaft_words(engine, wheel)}"


def _cam_words(engine: Engine, place: Place, key: str = "cam", bank_key: str = "bank") -> str:
    kind = place.get(key)
    bank = place.get(bank_key) or place.get("bank")
    if bank is None:
        return "cam" if kind == "single" else f"{kind} cam"
    words = shaft_words(engine, cam_id(int(bank), str(kind)))
    return words if (engine.banks or 1) > 1 or bank == 1 else f"{words} of bank {bank}"


def stage_or_shaft(engine: Engine, name: str) -> str:
    """A chain, a mesh or a shaft: "primary chain", "crank", "intake cam of bank 2"; a mesh by its shaft."""
    for stage in engine.drive.stages if engine.drive else ():
        if name == stage.id:
            return stage_words(engine, stage)
        for sprocket in stage.sprockets:
            if name == stage.mesh(sprocket.shaft):
                return shaft_words(engine, sprocket.shaft)
    return shaft_words(engine, name) if name in ("crank",) or "." in name else name.replace("_", " ")


def _place_words(engine: Engine, place: Place) -> str:
    if place.get("cam") is not None:
        return _cam_words(engine, place)
    named: list[str] = []
    for key, value in place.items:
        text = str(value)
        if key == "edge" or (key in _ONE_OF and text == key) or (key == "bank" and engine.banks == 1):
            continue  # said behind the quantity, or there is no other
        if key == "wheel":
            named.append(wheel_words(engine, text))
        elif key in ("mesh", "other_mesh", "chain", "mark", "position") or _is_shaft(key, text):
            named.append(stage_or_shaft(engine, text))
        elif key == "part":
            what, _, which = text.partition(":")
            named.append(wheel_words(engine, which) if what == "wheel" and which else part_words(engine, text))
        elif key in ("sensor", "actuator", "node", "other_node", "duct", "module", "learnt_item"):
            named.append(part_words(engine, text))
        elif key == "valve":
            named.append(valve_words(text))
        elif key == "plug":
            named.append(f"plug of cylinder {text}")
        elif key == "order":
            what, _, which = text.partition(":")
            named.append(f"{what} order {which}")
        elif key in ("bank", "cylinder"):
            named.append(f"{key} {text}")
        else:
            named.append(text if key == "code" else text.replace("_", " "))
    return listed(named, "to")


# Of these an engine has one: the quantity has said which.
_ONE_OF = ("battery", "rail", "pump", "fuel", "driveline")
_SHAFT = re.compile(r"crank|b\d+\.\w+")


def _is_shaft(key: str, text: str) -> bool:
    return key == "sensor" and _SHAFT.fullmatch(text) is not None


def valve_words(valve: str) -> str:
    """ "3.intake.opens" as "intake valve of cylinder 3 opens"."""
    number, _, rest = valve.partition(".")
    kind, _, event = rest.partition(".")
    return f"{kind} valve of cylinder {number} {event}".rstrip()


def quantity_words(engine: Engine, name: str, place: Place) -> str:
    """What was looked at and where, as a line's head: "Intake cam, off target".

    Parameters
    ----------
    engine : Engine
    name : str
        A quantity of the closed list.
    place : Place

    Returns
    -------
    str
    """
    where = _place_words(engine, place.with_keys(word=None))
    phrase = PHRASES.get(name)
    item = place.get("learnt_item")
    if name == "learnt_reported" and item not in (None, "cam_zero"):
        return at_start(f"learnt value, {where}")
    if phrase is None:
        plain = name.replace("_", " ")
        return at_start(f"{plain}, {where}" if where else plain)
    with_place, _, without = phrase.partition("|")
    wanted = "cylinder" if "{cylinder}" in with_place else ""
    if without and (place.get(wanted) is None if wanted else not where):
        return at_start(without)
    other = _cam_words(engine, place, "other_cam", "other_bank") if place.get("other_cam") else ""
    text = with_place.format(x=where, y=other, cylinder=place.get("cylinder"), w=_word_of(place))
    edge = place.get("edge")
    if edge is not None:
        text += f", edge {edge}" if str(edge).isdigit() else f", {str(edge).replace('_', ' ')} edge"
    return at_start(text)


def _word_of(place: Place) -> str:
    return str(place.get("word") or "").replace("_", " ")


def condition_words(condition: Condition, *, bare: bool = False) -> str:
    """When it was taken: "idle, 780 rpm, hot"; empty where nothing is known.

    Parameters
    ----------
    condition : Condition
    bare : bool
        Leave the phaser out.

    Returns
    -------
    str
    """
    parts = []
    if condition.state is not None:
        parts.append(state_words(condition.state))
    if condition.speed_rpm is not None:
        parts.append(f"{number(condition.speed_rpm)}{NBSP}rpm")
    if condition.coolant_c is not None:
        parts.append(f"{number(condition.coolant_c)}{NBSP}°C")
    if condition.phaser is not None and not bare:
        parts.append(f"phaser {condition.phaser}")
    if condition.during is not None:
        parts.append(_during_words(condition.during))
    if condition.freeze is not None:
        parts.append(f"frozen with {condition.freeze}")
    return ", ".join(parts)


def _during_words(during: str) -> str:
    """What is changed meanwhile: "coils of cylinders 3 and 4 exchanged"; of what is read itself, only what is done."""
    name, _, where = during.partition(":")
    known = interventions().get(name)
    if known is None:
        return f"during {name.replace('_', ' ')}"
    words = known.words if where else known.words.removeprefix("{where} ")
    if "{where}" in words and not where:
        return f"during {name.replace('_', ' ')}"
    return words.replace("{where}", where.replace("-", " and ").replace("_", " "))


def state_words(state: str) -> str:
    """An operating state in words: "raised idle"."""
    return _STATES[state]


def complaint_words(condition: Condition) -> str:
    """Whether the complaint was there: present, absent, not known."""
    return condition.complaint or "not known"


def value_words(finding: Finding, *, plus: bool = False) -> str:
    """The value with its spread, or yes and no in words."""
    return reading(finding.quantity, finding.value, finding.sd, finding.place, plus=plus)


def reading(name: str, value: float, sd: float, place: Place, *, plus: bool = False) -> str:
    """A value of a quantity with its spread, in the quantity's own way of speaking.

    Parameters
    ----------
    name : str
        A quantity of the closed list.
    value, sd : float
        In its unit.
    place : Place
        Says the unit where the quantity alone does not.
    plus : bool
        Write a plus sign before what is above 0.

    Returns
    -------
    str
    """
    kind = quantity(name)
    unit = kind.unit_at(place)
    if kind.kind == "yes_no":
        if name == "code_state":
            return "set" if value >= 0.5 else "not set"
        return "yes" if value >= 0.5 else "no"
    if kind.kind == "sign":
        return "the right way round" if value > 0 else "reversed"
    if kind.kind == "grade" and sd < 0.5:  # as somebody gave it; what is foreseen lies between the grades
        return "yes" if place.get("word") in _DENYING else _GRADE_WORDS[round(value)]
    if kind.kind == "count" and sd < 0.1:
        return estimate(round(value), 0.0, unit)
    if name == "mark_offset" and round(value, 1) == 0:
        return "in its place"
    if unit == "ohm" and abs(value) >= _MEGOHM_FROM:
        return estimate(value / 1e6, sd / 1e6, "MΩ")
    return estimate(value, sd, unit, plus=plus and unit not in _BARE_NUMBERS)


def is_typed(finding: Finding) -> bool:
    """Whether a person read it and wrote it down."""
    return finding.source.kind == "typed"


def code_of(engine: Engine, finding: Finding, told: ReportedCode | None = None) -> tuple[str, str] | None:
    """Code and meaning of a finding that is a trouble code, else None.

    Which cam is A and which B is said where the engine's description says it; of other letters, what they may mean.

    Parameters
    ----------
    engine : Engine
    finding : Finding
    told : ReportedCode, optional
        With what the shop knows of it.

    Returns
    -------
    tuple of (code, words), or None
    """
    code = finding.place.get("code")
    if finding.quantity != "code_state" or code is None:
        return None
    known = codes().get(str(code))
    if known is None:
        return str(code), _not_kept(str(code), told)
    words, a_is = known.words, engine.reporting.a_is
    if a_is in ("intake", "exhaust"):
        b_is = "exhaust" if a_is == "intake" else "intake"
        for side, kind in (("A", a_is), ("B", b_is)):
            words = words.replace(f"cam {side}", f"{kind} cam").replace(f"Cam {side}", f"{at_start(kind)} cam")
    words += _meant_words(engine, known)
    return str(code), f"{words}. This shop: {told.shop}" if told is not None and told.shop else words


def _not_kept(code: str, told: ReportedCode | None) -> str:
    if told is not None and told.whose == "shop":
        return f"{told.words} (this shop’s words)"
    if is_makers(code):
        return (
            "Maker-specific: its meaning is not kept here; see the maker’s service information, or add it to codes.toml"
        )
    return "The standard’s, but its meaning is not kept here; see the maker’s service information"


def _meant_words(engine: Engine, code: Code) -> str:
    """What a letter or a bank stands for on this engine, where the code's own words leave it open."""
    if code.bank is not None and bank_meant(engine, code.bank) not in (None, code.bank):
        return f" (bank {bank_meant(engine, code.bank)} as described)"
    if code.side is None or code.of not in _LETTERED:
        return ""
    found = [part_words(engine, name) for name, _ in meant(engine, code)]
    return f" ({listed(found, 'or')})" if found else ""


_LETTERED = ("coil", "coil_ends", "throttle_track", "reference")


def side_of(finding: Finding) -> str | None:
    """Whether a code speaks of cam A or B."""
    known = codes().get(str(finding.place.get("code")))
    return known.side if finding.quantity == "code_state" and known is not None else None


def origin(source: Provenance) -> str:
    """Where a finding comes from, in a few words; the same for all findings of one recording."""
    if source.kind in ("typed", "code"):
        return "written down"
    parts = [{"recording": "recording", "simulated": "made-up recording"}.get(source.kind, source.kind)]
    if source.text:
        parts.append(source.text)
    if source.digest:
        parts.append(source.digest[:19] + "…" if len(source.digest) > 20 else source.digest)
    return ", ".join(parts)
