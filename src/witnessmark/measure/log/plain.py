"""Findings that are nothing but the mean of one parameter in each operating state."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from witnessmark.finding import Finding
from witnessmark.measure.log.average import Average, average
from witnessmark.measure.log.conditions import pieces_of
from witnessmark.measure.log.series import Log, Series
from witnessmark.measure.log.spans import StateSpan
from witnessmark.measure.log.stretches import condition_of, grouped, source_of
from witnessmark.measure.log.words import WORDS
from witnessmark.vocabulary import Place

__all__ = ["averages", "described_mean"]


def averages(
    log: Log, series: Series, states: Sequence[StateSpan], among: Sequence[str], quantity: str, place: Place, *,
    floor: float = 0.0, coolant: bool = True, scale: float = 1.0, steady: bool = True,
    assumptions: tuple[str, ...] = (),
) -> Iterator[Finding]:  # fmt: skip
    """The mean of a parameter in each of some states, as findings.

    Parameters
    ----------
    log : Log
    series : Series
    states : sequence of StateSpan
    among : sequence of str
        States in which the quantity means something.
    quantity : str
    place : Place
    floor : float [unit of the parameter]
        What averaging cannot take away.
    coolant : bool
        Whether the coolant's temperature belongs to the condition.
    scale : float [-]
        From the parameter's unit to the quantity's.
    steady : bool
        Only steady stretches.
    assumptions : tuple of str

    Yields
    ------
    Finding
        None of a state with fewer than three samples.
    """
    for group in grouped(states, among):
        spans = group.steady.spans if steady else group.spans
        pieces = pieces_of(series, spans)
        found = average(pieces, floor=floor)
        if found is None:
            continue
        begin, end = float(pieces[0].times_s[0]), float(pieces[-1].times_s[-1])
        yield Finding(
            quantity, place, scale * found.value, abs(scale) * found.sd,
            condition_of(log, spans, state=group.state, coolant=coolant), source_of(log, [series], begin, end),
            described_mean(found, group.state), assumptions,
        )  # fmt: skip


def described_mean(found: Average, state: str) -> str:
    """How a mean was taken, in words.

    Parameters
    ----------
    found : Average
    state : str

    Returns
    -------
    str
    """
    return (
        f"mean of {found.count} samples {WORDS[state]}, worth {found.worth:.0f} independent ones; single ones "
        f"scatter by {found.scatter:.2g}"
    )
