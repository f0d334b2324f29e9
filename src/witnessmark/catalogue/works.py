"""What a job disturbs: work just before the complaint puts under suspicion what it came near."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from witnessmark.errors import one_of

__all__ = ["Job", "job", "jobs"]


@dataclass(frozen=True, slots=True)
class Job:
    """A part that was fitted or worked on, and the zones such work comes near.

    Parameters
    ----------
    part, words : str
    near : frozenset of str
    """

    part: str
    words: str
    near: frozenset[str]


@cache
def jobs() -> Mapping[str, Job]:
    """All jobs known, by part, from ``data/works.toml``.

    Returns
    -------
    mapping of str to Job
    """
    text = files("witnessmark").joinpath("data/works.toml").read_text(encoding="utf-8")
    rows = tomllib.loads(text)["work"]
    return {row["part"]: Job(row["part"], row["words"], frozenset(row["near"])) for row in rows}


def job(part: str) -> Job:
    """The job on a part.

    Parameters
    ----------
    part : str

    Returns
    -------
    Job

    Raises
    ------
    InputError
        If no such part is listed; names the nearest.
    """
    try:
        return jobs()[part]
    except KeyError:
        raise one_of("part", part, jobs()) from None
