"""What is known beside the findings: work done, its outcome, when the complaint shows."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from witnessmark.catalogue.works import job
from witnessmark.vocabulary import Place

__all__ = ["CIRCUMSTANCES", "KNOWN_KEYS", "History", "Work"]

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
    """One job done before the vehicle came in.

    Parameters
    ----------
    verb : str
        "fitted" (a new part) or "work" (taken off and put back, adjusted).
    part : str
        A part of ``data/works.toml``.
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
        For a part that is not listed.
    """

    verb: str
    part: str
    place: Place = field(default_factory=Place)
    cured: bool | None = None
    began: bool | None = None
    when: str = ""

    def __post_init__(self) -> None:
        job(self.part)

    @property
    def words(self) -> str:
        """ "front crank seal renewed", "cam sensor of the intake cam renewed"."""
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
        Empty means not asked, unless ``known["worked_on"] == "no"``.
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
    def work_is_known(self) -> bool:
        """True where somebody said what was, or that nothing was, worked on."""
        return bool(self.done) or self.known.get("worked_on") == "no"
