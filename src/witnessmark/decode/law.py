"""How regular a wheel and its rotation are: the law that a lock reads edges by, and the grid it is fitted on."""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.engine.tonewheel import WheelPattern

__all__ = ["FINE_PITCH_DEG", "Law", "grid_of", "law_at", "middling_law"]

# Jitter as a share of the pitch (of 31° where that is more): a wheel on a ground shaft, a stamped one, a poor one, one
# read through heavy noise.
_JITTERS = (0.003, 0.01, 0.03, 0.1)
# Acceleration [rad/s2]: driven on a bench, spinning without compression, running, cranking against it. A firing stroke
# at cranking speed has as much as the last.
_ACCELERATIONS = (5.0, 20.0, 60.0, 200.0, 600.0, 2000.0)
# Only where teeth stand as close as this does a gap bend the field of its neighbours.
FINE_PITCH_DEG = 31.0
# Beside a gap the field closes differently, and an edge comes early or late by up to a tenth of a pitch or two
# (1 to 2° on wheels of 6 to 10°, 4° on one of 30°, seen on recordings); always the same way, so it costs no lock.
_BESIDE_GAP, _BESIDE_GAP_MOST_DEG = 0.08, 2.5
# The wrong edge of a reluctance sensor may stand anywhere in a gap of several teeth: doubt as a share of the pitch.
_WRONG_EDGE, _WIDE_GAP = 0.5, 2.5


@dataclass(frozen=True, slots=True)
class Law:
    """How regular a wheel and its rotation are.

    Parameters
    ----------
    jitter_deg : float [deg]
        Standard deviation of a tooth's place, in degrees of the wheel's shaft.
    acceleration : float [rad/s2]
        Of the crank, root mean square within a turn.
    beside_deg : float [deg]
        Further doubt of the teeth beside a gap unlike the others.
    """

    jitter_deg: float
    acceleration: float
    beside_deg: float = 0.0


def law_at(pattern: WheelPattern, jitter: float, acceleration: float, beside: float) -> Law:
    """The law at one point of the grid."""
    return Law(jitter * min(pattern.pitch_deg, FINE_PITCH_DEG), acceleration, beside)


def _beside_doubts(pattern: WheelPattern) -> tuple[float, ...]:
    """What to try for the doubt of teeth beside a gap [deg]."""
    pitch = pattern.pitch_deg
    if not any(pattern.marks) or pitch > FINE_PITCH_DEG:
        return (0.0,)
    usual = min(_BESIDE_GAP * pitch, _BESIDE_GAP_MOST_DEG)
    return (0.0, usual, _WRONG_EDGE * pitch) if max(pattern.gaps_deg) > _WIDE_GAP * pitch else (0.0, usual)


def grid_of(pattern: WheelPattern) -> tuple[tuple[float, ...], tuple[float, ...], tuple[float, ...]]:
    """What to try for a wheel: jitters as shares of the pitch, accelerations [rad/s2], doubts beside a gap [deg]."""
    return _JITTERS, _ACCELERATIONS, _beside_doubts(pattern)


def middling_law(pattern: WheelPattern, acceleration: float = 100.0) -> Law:
    """A law for a first look, when nothing is fitted yet."""
    doubts = _beside_doubts(pattern)
    return law_at(pattern, 0.03, acceleration, doubts[min(1, len(doubts) - 1)])
