"""What was not measured, why, and what settles it."""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.engine.types import Engine
from witnessmark.finding import NotMeasured
from witnessmark.report.naming import quantity_words
from witnessmark.report.words import inside, listed, sentence

__all__ = ["Missing", "missing"]


@dataclass(frozen=True, slots=True)
class Missing:
    """What was not measured, why, and what settles it."""

    what: str
    reason: str
    settled_by: str


def missing(engine: Engine, not_measured: tuple[NotMeasured, ...]) -> tuple[Missing, ...]:
    """What was not measured; places with the same reason and remedy are said together.

    Parameters
    ----------
    engine : Engine
    not_measured : tuple of NotMeasured

    Returns
    -------
    tuple of Missing
        In the order in which they were first said.
    """
    together: dict[tuple[str, str, str], list[str]] = {}
    for item in not_measured:
        name = quantity_words(engine, item.quantity, item.place)
        together.setdefault((item.quantity, item.reason, item.settled_by), []).append(name)
    return tuple(
        Missing(_several(names), sentence(reason), inside(settled_by.strip().rstrip(".")))
        for (_, reason, settled_by), names in together.items()
    )


def _several(names: list[str]) -> str:
    """Several names that end alike, said once: "Intake cam and exhaust cam to crank"."""
    names = list(dict.fromkeys(names))
    if len(names) == 1:
        return names[0]
    words = [name.split(" ") for name in names]
    shared = 0
    while all(len(w) > shared + 1 for w in words) and len({w[-1 - shared] for w in words}) == 1:
        shared += 1
    heads = [" ".join(w[: len(w) - shared]) for w in words]
    if all(head.endswith(",") for head in heads):  # "coolant sensor, dropouts": the comma is the shared words'
        tail = " ".join(words[0][-shared:])
        bare = [head.rstrip(",") for head in heads]
        return f"{listed([bare[0], *map(inside, bare[1:])])}: {tail}"
    if not shared or any(head.endswith((" of", " the", " to")) for head in heads):
        return listed([names[0], *map(inside, names[1:])])
    tail = " ".join(words[0][-shared:])
    # A shared word that belongs to the name itself ("cam") stays with each.
    kept, _, rest = tail.partition(" ") if tail.startswith("cam") else ("", "", tail)
    heads = [f"{head} {kept}".strip() for head in heads]
    return f"{listed([heads[0], *map(inside, heads[1:])])} {rest}".strip()
