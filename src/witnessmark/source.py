"""Where a number comes from: citation, digest, and the steps done to it."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path

__all__ = ["UNSTATED", "Source", "Step", "digest_bytes", "digest_file"]


@dataclass(frozen=True, slots=True)
class Source:
    """Why a number is believed.

    Parameters
    ----------
    kind : str
        "counted", "measured", "computed", "maker", "typical", "guess", "assumed", "invented",
        "stated" (in words of its own), "unstated".
    text : str
        In words, for people.
    """

    kind: str
    text: str = ""

    def __str__(self) -> str:
        return self.text or self.kind


UNSTATED = Source("unstated")


@dataclass(frozen=True, slots=True)
class Step:
    """One thing done to data on its way, kept so that a result can be retraced."""

    name: str
    detail: str = ""


def digest_bytes(data: bytes) -> str:
    """SHA-256 of bytes, written "sha256:…".

    Parameters
    ----------
    data : bytes

    Returns
    -------
    str
    """
    return "sha256:" + hashlib.sha256(data).hexdigest()


def digest_file(path: Path) -> str:
    """SHA-256 of a file's bytes, written "sha256:…"; reads in pieces.

    Parameters
    ----------
    path : Path

    Returns
    -------
    str
    """
    with Path(path).open("rb") as stream:
        return "sha256:" + hashlib.file_digest(stream, "sha256").hexdigest()
