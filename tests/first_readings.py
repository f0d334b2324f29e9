"""Worked examples of typical first readings: what is in hand, and which answers a diagnostician would accept.

The examples stand in ``tests/data/first_readings/``, one file each; its README says what the keys mean. They were
written before the code that answers them and without running it. Nothing here reasons: files become plain values.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from fnmatch import fnmatchcase
from functools import cache
from pathlib import Path
from typing import Any

from witnessmark.case.code import code_findings, parse_code_line
from witnessmark.case.history import engine_with_known, said_history
from witnessmark.case.ready import parse_ready
from witnessmark.case.reported import Reported
from witnessmark.case.typed import parse_reading, refuse_twice
from witnessmark.engine.file import engine_from_mapping
from witnessmark.engine.types import Engine
from witnessmark.finding import Finding
from witnessmark.infer.history import History

__all__ = ["FOLDER", "NO_FAULT", "FirstReading", "InHand", "Named", "Objection", "first_readings"]

FOLDER = Path(__file__).parent / "data" / "first_readings"
NO_FAULT = ("nothing_wrong", "elsewhere", "none_of_these")
"""Hypotheses that are no fault, as the JSON of an answer calls them."""


@dataclass(frozen=True, slots=True)
class Named:
    """A cause as the examples name it: a fault of the catalogue, at a place or anywhere; or one of :data:`NO_FAULT`.

    Parameters
    ----------
    fault : str
    key, place : str
        Place key and id as :class:`witnessmark.catalogue.placeof.PlaceOf` has them; the id may end in ``*``. Empty: at
        any place.
    """

    fault: str
    key: str = ""
    place: str = ""

    @classmethod
    def parsed(cls, text: str) -> Named:
        """From ``fault`` or ``fault key=place``."""
        fault, _, where = text.partition(" ")
        key, equals, place = where.partition("=")
        if where and not (key and equals and place):
            raise ValueError(f"{text!r}: expected a fault, or a fault and key=place")
        return cls(fault, key, place)

    def matches(self, fault: str, key: str = "", place: str = "") -> bool:
        """Whether a fault at a place is what was named."""
        if fault != self.fault:
            return False
        return not self.key or (key == self.key and fnmatchcase(place, self.place))

    def __str__(self) -> str:
        return f"{self.fault} {self.key}={self.place}" if self.key else self.fault


@dataclass(frozen=True, slots=True)
class Objection:
    """What a careful colleague would object to, and why.

    Parameters
    ----------
    to : str
        A cause as :class:`Named` reads it, or a test's id.
    why : str
    """

    to: str
    why: str


@dataclass(frozen=True, slots=True)
class InHand:
    """What is in hand, as the program's own types.

    Parameters
    ----------
    engine : Engine
    findings : tuple of Finding
        Those of codes among them.
    history : History
    reported : Reported
    """

    engine: Engine
    findings: tuple[Finding, ...]
    history: History
    reported: Reported


@dataclass(frozen=True, slots=True)
class FirstReading:
    """One worked example.

    Parameters
    ----------
    id : str
        The file's name without its ending: "01-lean-at-idle".
    title, told, why, source : str
    engine : mapping
        Tables of an engine description.
    known, when, did, codes, ready, saw : tuple of str
        Lines as typed.
    complaint_seen : bool, optional
    acceptable_first : tuple of Named
        One of these leads.
    within : int
        How many leading repair groups count for :attr:`must_be_within`.
    must_be_within : tuple of tuple of Named
        Of every inner tuple at least one stands among them.
    must_not_lead : tuple of Objection
    acceptable_tests, acceptable_repairs : tuple of str
        Ids of procedures and jobs, any of which is right as the next step.
    bad_tests : tuple of Objection
    verdict_acceptable : tuple of str
    doubtful : tuple of str
        Lines of ``saw`` that are to be asked back, or not believed.
    wanted_fault : tuple of str
        In words: causes that a technician would name and the catalogue lacks.
    """

    id: str
    title: str
    told: str
    why: str
    source: str
    engine: Mapping[str, Any]
    known: tuple[str, ...]
    when: tuple[str, ...]
    did: tuple[str, ...]
    codes: tuple[str, ...]
    ready: tuple[str, ...]
    saw: tuple[str, ...]
    complaint_seen: bool | None
    acceptable_first: tuple[Named, ...]
    within: int
    must_be_within: tuple[tuple[Named, ...], ...]
    must_not_lead: tuple[Objection, ...]
    acceptable_tests: tuple[str, ...]
    acceptable_repairs: tuple[str, ...]
    bad_tests: tuple[Objection, ...]
    verdict_acceptable: tuple[str, ...]
    doubtful: tuple[str, ...]
    wanted_fault: tuple[str, ...]

    @property
    def causes(self) -> tuple[Named, ...]:
        """Every cause that is named anywhere in it."""
        wanted = (one for some in self.must_be_within for one in some)
        return (*self.acceptable_first, *wanted, *(Named.parsed(one.to) for one in self.must_not_lead))

    def in_hand(self) -> InHand:
        """The lines read as ``witnessmark examine`` reads them.

        Raises
        ------
        InputError
            For a line that cannot be used.
        """
        history = said_history(known=self.known, did=self.did, when=self.when, complaint_seen=self.complaint_seen)
        engine = engine_with_known(engine_from_mapping(self.engine, where=self.id), history.known)
        codes = tuple(parse_code_line(line) for line in self.codes)
        of_codes = [f for code, line in zip(codes, self.codes, strict=True) for f in code_findings(code, line)]
        findings = (*of_codes, *(parse_reading(line, engine=engine) for line in self.saw))
        refuse_twice(findings)
        return InHand(engine, findings, history, Reported(codes, parse_ready(self.ready)))


_LINES = ("known", "when", "did", "codes", "ready", "saw")
_KEYS = {
    *("title", "told", "why", "source", "engine", "in_hand", "acceptable_first", "within", "must_be_within"),
    *("must_not_lead", "acceptable_tests", "acceptable_repairs", "bad_tests", "verdict_acceptable", "wanted_fault"),
}


@cache
def first_readings() -> tuple[FirstReading, ...]:
    """All examples, in the order of their numbers.

    Raises
    ------
    ValueError
        For a key that does not belong into an example.
    """
    return tuple(_read(path) for path in sorted(FOLDER.glob("*.toml")))


def _read(path: Path) -> FirstReading:
    said = tomllib.loads(path.read_text(encoding="utf-8"))
    hand = said["in_hand"]
    strange = {*said} - _KEYS | {*hand} - {*_LINES, "complaint_seen", "doubtful"}
    if strange:
        raise ValueError(f"{path.name}: {sorted(strange)} do not belong here")
    return FirstReading(
        id=path.stem,
        title=said["title"],
        told=said["told"],
        why=" ".join(said["why"].split()),
        source=said["source"],
        engine=said["engine"],
        **{name: tuple(hand.get(name, ())) for name in _LINES},
        complaint_seen=hand.get("complaint_seen"),
        acceptable_first=tuple(map(Named.parsed, said["acceptable_first"])),
        within=said.get("within", 5),
        must_be_within=tuple(tuple(map(Named.parsed, some)) for some in said.get("must_be_within", ())),
        must_not_lead=_objections(said.get("must_not_lead", {})),
        acceptable_tests=tuple(said["acceptable_tests"]),
        acceptable_repairs=tuple(said.get("acceptable_repairs", ())),
        bad_tests=_objections(said.get("bad_tests", {})),
        verdict_acceptable=tuple(said["verdict_acceptable"]),
        doubtful=tuple(hand.get("doubtful", ())),
        wanted_fault=tuple(said.get("wanted_fault", ())),
    )


def _objections(said: Mapping[str, str]) -> tuple[Objection, ...]:
    return tuple(Objection(to, why) for to, why in said.items())
