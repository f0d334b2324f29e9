"""What is known beside the readings, as people type it: facts, work done, when the complaint shows.

``--known "metering=air_meter km=187400"``, ``--did "fitted part=cam_sensor cam=intake cured=no"``,
``--when "cold load"``; the same lines stand in ``case.toml``.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import replace

from witnessmark.case.places import banks_of, check_did
from witnessmark.case.words import Said, leading_number, plain_signs, split_line, yes_or_no
from witnessmark.catalogue.procedures import all_procedures
from witnessmark.engine.breathing import Breathing
from witnessmark.engine.number import Number
from witnessmark.engine.types import Engine
from witnessmark.errors import InputError, UnitError, nearest, one_of
from witnessmark.infer.history import CIRCUMSTANCES, KNOWN_KEYS, REPAIR, History, Work
from witnessmark.source import Source
from witnessmark.units import convert
from witnessmark.vocabulary import PLACE_KEYS, Place

__all__ = ["engine_with_known", "format_did", "parse_did", "parse_known", "parse_when", "said_history"]

_VERBS = ("fitted", "work", REPAIR)
_FITTED = ("replaced", "renewed", "changed", "exchanged", "new")  # other words for the first
_ANSWERS = ("cured", "began")
_SAID = Source("stated", "said with the readings")
_WORDS: Mapping[str, tuple[str, ...]] = {
    "oil": ("neglected", "kept"),
    "layout": ("inline", "vee", "flat"),
    "sign": ("advanced", "retarded"),
    "a_is": ("intake", "exhaust"),
    "metering": ("air_meter", "speed_density"),
}
_YES_NO = ("learns", "worked_on")
_SYSTEMS = ("timing_drive", "air", "fuel", "ignition", "compression", "exhaust", "electrical", "oil", "driveline")
_LISTS = ("open", "looked_at")
_LITRES, _LITRES_APART = (0.2, 12.0), 0.05
_COULD_BE_THOUSANDS = re.compile(r"\d{1,3}[.,]\d{3}")


def parse_known(lines: Iterable[str]) -> dict[str, str]:
    """Facts about the vehicle, from ``key=value`` pairs.

    Parameters
    ----------
    lines : iterable of str
        Each with one or more pairs.

    Returns
    -------
    dict of str to str
        Distances in km, years as a number, everything else as its word.

    Raises
    ------
    InputError
        For an unknown key or word, or a key said twice.

    Examples
    --------
    >>> parse_known(["metering=air_meter km=187400"])
    {'metering': 'air_meter', 'km': '187400'}
    """
    known: dict[str, str] = {}
    for line in lines:
        said = split_line(line, with_head=False)
        if said.rest:
            word = said.rest.split()[0]
            raise InputError(f"“{word}” is no fact", given=line, expected="key=value, as in km=187400")
        for key, value in said.pairs:
            if key not in KNOWN_KEYS:
                raise one_of("fact", key, KNOWN_KEYS)
            if key in known:
                raise InputError(f"{key}= stands twice: {known[key]} and {value}", given=line)
            known[key] = _fact(key, value)
    return known


def _fact(key: str, value: str) -> str:
    if key in _WORDS:
        word = value.lower().replace("-", "_")
        if key == "layout":
            word = word.replace("_", "")
        if word not in _WORDS[key]:
            raise _which(key, value, _WORDS[key])
        return word
    if key in _LISTS:
        return _several(key, value)
    if key in _YES_NO:
        return "yes" if yes_or_no(key, value) else "no"
    if key == "km":
        return _distance(value)
    if key == "years":
        return _amount(key, value)
    if key == "litres":
        return _displacement(value)
    return value


def _several(key: str, value: str) -> str:
    """Words parted by commas: covers that are off, systems that were looked at."""
    choices = tuple(all_procedures().covers) if key == "open" else _SYSTEMS
    words = [word for word in value.lower().split(",") if word]
    for word in words:
        if word not in choices:
            raise _which(key, word, choices)
    return ",".join(words)


def _which(key: str, value: str, words: tuple[str, ...]) -> InputError:
    near = nearest(value, words)
    todo = f"Nearest: {near[0]}" if near else f"One of: {', '.join(words)}"
    return InputError(f"{key}= is never “{value}”", given=value, todo=todo)


def _amount(key: str, value: str) -> str:
    found = leading_number(plain_signs(value))
    if found is None or found[0].value < 0 or found[1] not in ("", key):
        raise InputError(f"{key}={value} is not a number of {key}", given=value, todo=f"Write it as in {key}=12")
    return f"{found[0].value:g}"


def _displacement(value: str) -> str:
    """Litres; a comma parts the decimals, and cubic centimetres are told by their unit."""
    found = leading_number(plain_signs(value.replace(",", ".")))
    per_litre = {"": 1.0, "l": 1.0, "litres": 1.0, "cc": 1e-3, "ccm": 1e-3, "cm3": 1e-3, "cm³": 1e-3}
    scale = per_litre.get(found[1].lower()) if found is not None else None
    if found is None or scale is None:
        raise InputError(f"litres={value} is no displacement", given=value, todo="Write it as in litres=1.5")
    litres, (low, high) = scale * found[0].value, _LITRES
    if not low <= litres <= high:
        raise InputError(
            f"litres={value} is no engine's", given=value, expected=f"{low:g} to {high:g}, as in litres=1.5"
        )
    return f"{litres:g}"


def _distance(value: str) -> str:
    if _COULD_BE_THOUSANDS.fullmatch(value):
        whole = re.sub(r"[.,]", "", value)
        raise InputError(f"km={value} could be {whole} or less than a thousand", given=value, todo=f"Write km={whole}")
    found = leading_number(plain_signs(value))
    if found is None or found[0].value < 0:
        raise InputError(f"km={value} is not a distance", given=value, todo="Write it as in km=187400")
    try:
        kilometres = convert(found[0].value, found[1] or "km", "km")
    except UnitError as error:
        raise error.at(f"km={value}") from None
    return str(round(kilometres))


def parse_did(line: str, *, engine: Engine | None = None) -> Work:
    """One job that was done, from one typed line.

    Parameters
    ----------
    line : str
        ``fitted`` or ``work``, then ``part=``, where it matters a place, and ``cured=`` or ``began=`` yes or no;
        or ``repair`` with its name in the answer, and ``cured=``.
    engine : Engine, optional
        To refuse banks and cams it does not have.

    Returns
    -------
    Work

    Raises
    ------
    InputError
        For an unknown verb, part, key or answer; names the nearest.

    Examples
    --------
    >>> parse_did("fitted part=cam_sensor cam=intake cured=no").cured
    False
    """
    said = split_line(line)
    if said.head not in _VERBS:
        raise _no_such_verb(said.head, line)
    if said.head == REPAIR:
        return _repair(said, line)
    if said.rest:
        word = said.rest.split()[0]
        raise InputError(f"“{word}” is half a pair", given=line, expected="key=value, as in part=cam_sensor")
    pairs = dict(said.pairs)
    part = pairs.pop("part", None)
    if part is None:
        raise InputError(f"{said.head}: which part?", given=line, todo="Add it, as in part=cam_sensor")
    answers = {key: yes_or_no(key, pairs.pop(key)) for key in _ANSWERS if key in pairs}
    when = pairs.pop("when", "")
    keys = [key for key in PLACE_KEYS if key not in ("part", "code")]
    for key in pairs:
        if key not in keys:
            raise one_of("key", key, (*_ANSWERS, "part", "when", "cam", "bank", "wheel", "cylinder"))
    place = Place.from_mapping(pairs)
    check_did(place, engine)
    return Work(said.head, part.lower(), place, answers.get("cured"), answers.get("began"), when)


def _repair(said: Said, line: str) -> Work:
    """A repair that an answer named."""
    pairs = dict(said.pairs)
    cured, when = pairs.pop("cured", None), pairs.pop("when", "")
    # A job without what it covers is no name: which of four injectors?
    if len(said.rest.split()) != 1 or pairs or not all(one.partition(":")[2] for one in said.rest.split("+")):
        raise InputError(
            "Which repair?", given=line, expected="its name in the answer, as in repair injector:cylinder_3 cured=no"
        )
    return Work(
        REPAIR, said.rest.strip().lower(), cured=None if cured is None else yes_or_no("cured", cured), when=when
    )


def _no_such_verb(word: str, line: str) -> InputError:
    if not word:
        return InputError("What was done?", given=line, expected="fitted (a new part), work or repair first")
    if word in _FITTED:
        return InputError(f"No kind of work is called “{word}”", given=line, todo=f"Nearest: {_VERBS[0]}")
    return one_of("kind of work", word, _VERBS)


def format_did(work: Work) -> str:
    """A job as the line that would be typed for it.

    Parameters
    ----------
    work : Work

    Examples
    --------
    >>> format_did(parse_did("work part=crank_seal began=yes"))
    'work part=crank_seal began=yes'
    """
    answers = ((key, getattr(work, key)) for key in _ANSWERS)
    said = [f"{key}={'yes' if answer else 'no'}" for key, answer in answers if answer is not None]
    when = [f"when={work.when}"] if work.when and " " not in work.when else []
    part = work.part if work.is_repair else f"part={work.part}"
    return " ".join([work.verb, part, *([str(work.place)] if work.place.items else []), *said, *when])


def parse_when(lines: Iterable[str]) -> frozenset[str]:
    """Under which circumstances the complaint shows.

    Parameters
    ----------
    lines : iterable of str
        Words parted by spaces or commas.

    Returns
    -------
    frozenset of str

    Raises
    ------
    InputError
        For a word that is none of them; names the nearest.

    Examples
    --------
    >>> sorted(parse_when(["cold, load"]))
    ['cold', 'load']
    """
    words = [word for line in lines for word in line.lower().replace(",", " ").split() if word != "and"]
    for word in words:
        if word not in CIRCUMSTANCES:
            raise one_of("circumstance", word, CIRCUMSTANCES)
    return frozenset(words)


def said_history(
    *,
    known: Iterable[str] = (),
    did: Iterable[str] = (),
    when: Iterable[str] = (),
    complaint_seen: bool | None = None,
    engine: Engine | None = None,
) -> History:
    """Everything typed beside the readings, in one.

    Parameters
    ----------
    known, did, when : iterable of str
        Lines as typed.
    complaint_seen : bool, optional
    engine : Engine, optional

    Raises
    ------
    InputError
        For anything that cannot be used.
    """
    done = tuple(parse_did(line, engine=engine) for line in did)
    return History(done, parse_when(when), parse_known(known), complaint_seen)


def engine_with_known(engine: Engine, known: Mapping[str, str]) -> Engine:
    """The engine with the facts that belong to its description.

    Parameters
    ----------
    engine : Engine
    known : mapping of str to str
        From :func:`parse_known`.

    Raises
    ------
    InputError
        If a fact contradicts the description.
    """
    reporting = engine.reporting
    layout = known.get("layout")
    if layout is not None:
        _agree("layout", layout, engine.layout)
        engine = replace(engine, layout=layout)
        engine = replace(engine, banks=banks_of(engine) or (2 if layout in ("vee", "flat") else None))
    if "sign" in known:
        sign = 1.0 if known["sign"] == "advanced" else -1.0
        _agree("sign", known["sign"], {1.0: "advanced", -1.0: "retarded"}.get(reporting.sign.exact or 0.0))
        reporting = replace(reporting, sign=Number.exactly(sign, _SAID))
    if "a_is" in known:
        _agree("a_is", known["a_is"], reporting.a_is)
        reporting = replace(reporting, a_is=known["a_is"])
    if "learns" in known:
        described = {True: "yes", False: "no"}.get(reporting.learns) if reporting.learns is not None else None
        _agree("learns", known["learns"], described)
        reporting = replace(reporting, learns=known["learns"] == "yes")
    return replace(engine, reporting=reporting, breathing=_breathing_with(engine.breathing, known))


def _breathing_with(breathing: Breathing, known: Mapping[str, str]) -> Breathing:
    """Displacement and metering as they were said, where the description leaves them out or says the same."""
    cylinder, air = breathing.cylinder, breathing.air
    if "litres" in known:
        described = cylinder.displacement_l.exact
        if described is not None and abs(described - float(known["litres"])) > _LITRES_APART * described:
            _agree("litres", known["litres"], f"{described:g}")
        elif described is None:
            cylinder = replace(cylinder, displacement_l=Number.exactly(float(known["litres"]), _SAID))
    if "metering" in known:
        _agree("metering", known["metering"], air.metering)
        air = replace(air, metering=known["metering"])
    return replace(breathing, cylinder=cylinder, air=air)


def _agree(key: str, said: str, described: str | None) -> None:
    if described is not None and said != described:
        raise InputError(f"{key}={said}, but the engine's description says {described}", given=said, todo="Keep one")
