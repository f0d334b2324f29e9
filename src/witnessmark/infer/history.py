"""What is known beside the findings: work done, its outcome, when the complaint shows."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from witnessmark.catalogue.faultrows import check_repair_job
from witnessmark.catalogue.placeof import ALL
from witnessmark.catalogue.works import job
from witnessmark.vocabulary import Place

__all__ = ["CIRCUMSTANCES", "KNOWN_KEYS", "REPAIR", "History", "Work"]

REPAIR = "repair"
"""Verb of a repair that an answer named, done by whoever has the case now."""

CIRCUMSTANCES = {
    "heat": "h",
    "hot": "h",
    "cold": "c",
    "wet": "w",
    "vibration": "v",
    "load": "l",
    "fuel": "f",
}
KNOWN_KEYS = (
    "km", "years", "oil", "worked_on", "layout", "learns", "sign", "a_is", "metering", "litres", "open", "looked_at",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Work:
    """One job done: before the vehicle came in, or since.

    Parameters
    ----------
    verb : str
        "fitted" (a new part) or "work" (taken off and put back, adjusted); :data:`REPAIR`, one that an answer named.
    part : str
        A part of ``data/works.toml``; of a repair its name, jobs with their scopes: "injector:cylinder_3".
    place : Place
        Which one, where said.
    cured : bool, optional
        Whether the complaint went away.
    began : bool, optional
        Whether the complaint began after it.
    when : str
        As written.

    Raises
    ------
    InputError
        For a part, or a job, that is not listed.
    """

    verb: str
    part: str
    place: Place = field(default_factory=Place)
    cured: bool | None = None
    began: bool | None = None
    when: str = ""

    def __post_init__(self) -> None:
        if self.is_repair:
            for name, _ in self.repairs:
                check_repair_job(name)
        else:
            job(self.part)

    @property
    def is_repair(self) -> bool:
        """Whether it is a repair that an answer named."""
        return self.verb == REPAIR

    @property
    def repairs(self) -> tuple[tuple[str, str], ...]:
        """Jobs of a repair and what each covers; none of a part that was fitted."""
        if not self.is_repair:
            return ()
        parted = (one.partition(":") for one in self.part.split("+"))
        return tuple((name, scope) for name, _, scope in parted)

    def includes(self, repair: tuple[str, str]) -> bool:
        """Whether a repair was done with it: the same one, or the same job on all of its kind.

        Parameters
        ----------
        repair : (str, str)
            Job and scope.

        Returns
        -------
        bool
        """
        return any(name == repair[0] and scope in (repair[1], ALL) for name, scope in self.repairs)

    @property
    def words(self) -> str:
        """ "front crank seal renewed", "cam sensor of the intake cam renewed", of a repair its name."""
        if self.is_repair:
            return f"repair “{self.part}” done"
        cam, bank = self.place.get("cam"), self.place.get("bank")
        where = "" if cam is None else " of the cam" if cam == "single" else f" of the {cam} cam"
        where += f", bank {bank}" if bank not in (None, 1) else ""
        return f"{job(self.part).words}{where} {'renewed' if self.verb == 'fitted' else 'worked on'}"


@dataclass(frozen=True, slots=True)
class History:
    """Everything that moves priors rather than being measured.

    Parameters
    ----------
    done : tuple of Work
        None before means not asked, unless ``known["worked_on"] == "no"``.
    circumstances : frozenset of str
        When the complaint shows: keys of :data:`CIRCUMSTANCES`.
    known : mapping of str to str
        Keys of :data:`KNOWN_KEYS`.
    complaint_seen : bool, optional
        Whether the complaint was seen here.
    """

    done: tuple[Work, ...] = ()
    circumstances: frozenset[str] = frozenset()
    known: Mapping[str, str] = field(default_factory=dict)
    complaint_seen: bool | None = None

    @property
    def before(self) -> tuple[Work, ...]:
        """What was done before the vehicle came in."""
        return tuple(work for work in self.done if not work.is_repair)

    @property
    def work_is_known(self) -> bool:
        """True where somebody said what was, or that nothing was, worked on."""
        return bool(self.before) or self.known.get("worked_on") == "no"
