"""Patterns of tone wheels: where the edges sit on the wheel, by gaps or by a usual name.

A wheel is described by its **even edges**: the edges of one kind (rising or falling) that sit at the
made places. The edges of the other kind may stand anywhere between them, and on some wheels carry a code.

The **index edge** is the zero of every angle. It is the first even edge after the largest gap; of several
equally large gaps the one whose following gaps come first when compared one after the other, smallest
first; if the gaps alone do not decide, the same rule over the widths up to the other edges, narrowest
first. A wheel that looks the same from several of its edges (n equal teeth, 70/110/70/110) has that many
index edges, and an angle is then known only within one **sector**.

Notation of missing and added teeth: ``60-2`` is 60 places, 2 missing together; ``36-2-1`` two gaps, of 2
and of 1; ``12+1`` 12 teeth and one between. Which gap follows which, and how many teeth stand between,
the name does not say: :func:`parse_wheel` takes ``36-2-1 (17,16)`` for the teeth behind each gap, and
:func:`candidates` gives every order that the name leaves open.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache

from witnessmark.errors import EngineDefinitionError, nearest

__all__ = ["USUAL_NAMES", "WheelPattern", "candidates", "half_moon", "missing", "parse_wheel", "plain", "plus"]

# Two gaps this close, in degrees, are the same gap: far below any cutting tolerance, far above rounding.
_SAME_DEG = 1e-3
_TURN_DEG = 360.0

USUAL_NAMES = (
    "60-2",
    "36-1",
    "36-2",
    "36-2-1",
    "36-2-2",
    "36-2-2-2",
    "24-1",
    "24 uneven",
    "12-1",
    "12+1",
    "4 uneven",
    "4-1",
    "4+1",
    "half moon",
)

# Teeth behind each gap, in the order of the name. 36-2-1: read off a recording of such a wheel;
# the others from memory. All other orders stay candidates.
_USUAL_RUNS: dict[tuple[int, tuple[int, ...]], tuple[int, ...]] = {
    (36, (2, 1)): (17, 16),
    (36, (2, 2)): (16, 16),
    (36, (2, 2, 2)): (16, 13, 1),
}
# Place of an added tooth within its pitch: 1/3 read off recordings of two such wheels, the others tried besides.
_PLUS_PLACES = (1 / 3, 1 / 2, 2 / 3)
# Width in degrees up to the even edge, tooth by tooth, of the wheel of 24 even edges: read off a recording of one.
_CODE_24 = "000001111101110011000101"


@dataclass(frozen=True, slots=True)
class WheelPattern:
    """Where the edges of a tone wheel sit, in degrees of its own shaft, in the order in which they pass.

    Build with :meth:`from_gaps`, :func:`parse_wheel` or the makers below it; the index rule is then kept.

    Parameters
    ----------
    name : str
        As people call it.
    edges_deg : tuple of float
        Even edges, 0 = index edge, rising, below 360.
    others_deg : tuple of float
        Edges of the other kind on the same zero, rising, 0..360; empty where not described.
    """

    name: str
    edges_deg: tuple[float, ...]
    others_deg: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        edges = self.edges_deg
        if not edges or edges[0] != 0.0 or any(b <= a for a, b in itertools.pairwise(edges)) or edges[-1] >= _TURN_DEG:
            raise EngineDefinitionError(
                f"the wheel “{self.name}” needs rising edge angles from 0 and below 360",
                given=", ".join(f"{a:g}" for a in edges[:6]),
                todo="Give its gaps in turn instead; they add up to 360",
            )

    @classmethod
    def from_gaps(cls, gaps_deg: Sequence[float], *, name: str = "", widths_deg: Sequence[float] = ()) -> WheelPattern:
        """A wheel from the gaps between its even edges, taken in turn from any edge.

        Parameters
        ----------
        gaps_deg : sequence of float [deg]
            All gaps of one turn of the wheel; they add up to 360.
        name : str
            Made from the gaps if left out.
        widths_deg : sequence of float [deg]
            Within each gap the angle from its first edge to the edge of the other kind; empty where not described.

        Returns
        -------
        WheelPattern
            Turned so that the index edge comes first.

        Raises
        ------
        EngineDefinitionError
            For gaps that are not positive or do not add up to 360, or widths that do not lie inside their gaps.
        """
        gaps, widths = tuple(map(float, gaps_deg)), tuple(map(float, widths_deg))
        _check_gaps(gaps, widths)
        start = _index_start(gaps, widths)
        gaps, widths = gaps[start:] + gaps[:start], widths[start:] + widths[:start]
        edges = (0.0, *itertools.accumulate(gaps[:-1]))
        others = tuple(sorted((a + w) % _TURN_DEG for a, w in zip(edges, widths, strict=True))) if widths else ()
        return cls(name or _name_of(gaps), edges, others)

    @property
    def n_edges(self) -> int:
        """Even edges in one turn."""
        return len(self.edges_deg)

    @property
    def gaps_deg(self) -> tuple[float, ...]:
        """Gap behind each even edge; they add up to 360."""
        return tuple(b - a for a, b in itertools.pairwise((*self.edges_deg, _TURN_DEG)))

    @property
    def widths_deg(self) -> tuple[float, ...]:
        """Within each gap the angle up to the other edge; empty unless exactly one is described in every gap."""
        if len(self.others_deg) != self.n_edges:
            return ()
        ends = (*self.edges_deg[1:], _TURN_DEG)
        inside = tuple(
            next((o - a for o in self.others_deg if a < o < b), None) for a, b in zip(self.edges_deg, ends, strict=True)
        )
        return () if None in inside else tuple(float(w) for w in inside if w is not None)

    @property
    def symmetry(self) -> int:
        """In how many ways the wheel can be turned onto itself; 1 for a wheel with one index."""
        gaps, widths = self.gaps_deg, self.widths_deg
        marks = list(zip(gaps, widths, strict=True)) if widths else [(g, 0.0) for g in gaps]
        n = len(marks)
        return max(k for k in range(1, n + 1) if n % k == 0 and _same_marks(marks, n // k))

    @property
    def sector_deg(self) -> float:
        """The angle after which the wheel looks the same again; 360 for a wheel with one index."""
        return _TURN_DEG / self.symmetry

    @property
    def is_coded(self) -> bool:
        """True where only the edges of the other kind tell the teeth apart."""
        if not self.widths_deg:
            return False
        return WheelPattern(self.name, self.edges_deg).symmetry > self.symmetry

    @property
    def pitch_deg(self) -> float:
        """The usual gap: the median of all."""
        ordered = sorted(self.gaps_deg)
        return ordered[len(ordered) // 2]

    @property
    def marks(self) -> tuple[bool, ...]:
        """For each gap, whether it tells where one is: it differs from the usual gap by a fifth or more."""
        usual = self.pitch_deg
        return tuple(abs(gap - usual) > 0.2 * usual for gap in self.gaps_deg)

    def renamed(self, name: str) -> WheelPattern:
        """The same wheel under another name."""
        return WheelPattern(name, self.edges_deg, self.others_deg)

    def __str__(self) -> str:
        return self.name


def _check_gaps(gaps: tuple[float, ...], widths: tuple[float, ...]) -> None:
    if not gaps or min(gaps) <= 0.0:
        raise EngineDefinitionError("a wheel needs gaps above 0", given=", ".join(f"{g:g}" for g in gaps) or "none")
    total = sum(gaps)
    if abs(total - _TURN_DEG) > 0.01:
        raise EngineDefinitionError(
            f"the {len(gaps)} gaps of a wheel add up to {total:g}°",
            expected="360° of the wheel's own shaft",
            todo="List every gap of one turn",
        )
    if widths and (len(widths) != len(gaps) or any(not 0.0 < w < g for w, g in zip(widths, gaps, strict=True))):
        raise EngineDefinitionError("the widths of a wheel must lie inside its gaps, one for each gap")


def _same_marks(marks: list[tuple[float, float]], shift: int) -> bool:
    turned = marks[shift:] + marks[:shift]
    return all(abs(a - b) < _SAME_DEG for m, t in zip(marks, turned, strict=True) for a, b in zip(m, t, strict=True))


def _index_start(gaps: tuple[float, ...], widths: tuple[float, ...]) -> int:
    """Number of the edge that is the index edge (the rule stands in the module's text)."""

    def rounded(values: Iterable[float]) -> tuple[int, ...]:
        return tuple(round(v / _SAME_DEG) for v in values)

    def key(i: int) -> tuple[int, tuple[int, ...], tuple[int, ...]]:
        turned = widths[i:] + widths[:i]
        return -rounded(gaps[i - 1 : i] or gaps[-1:])[0], rounded(gaps[i:] + gaps[:i]), rounded(turned)

    return min(range(len(gaps)), key=key)


def _name_of(gaps: tuple[float, ...]) -> str:
    if max(gaps) - min(gaps) < _SAME_DEG:
        return f"{len(gaps)} a turn"
    if len(gaps) <= 8:
        return "/".join(f"{g:g}" for g in gaps)
    return f"{len(gaps)} edges a turn, gaps {min(gaps):g} to {max(gaps):g}°"


def plain(n_edges: int) -> WheelPattern:
    """A wheel of ``n_edges`` equal gaps."""
    if n_edges < 1:
        raise EngineDefinitionError(f"a wheel with {n_edges} edges", expected="at least one")
    edges = tuple(i * _TURN_DEG / n_edges for i in range(n_edges))
    return WheelPattern(f"{n_edges} a turn", edges)


def half_moon() -> WheelPattern:
    """One half of the turn high, the other low."""
    return WheelPattern.from_gaps([_TURN_DEG], name="half moon", widths_deg=[180.0])


def missing(n_places: int, absent: Sequence[int], runs: Sequence[int] = ()) -> WheelPattern:
    """A wheel of equal places with some teeth left out.

    Parameters
    ----------
    n_places : int
        Places around the wheel.
    absent : sequence of int
        How many neighbouring teeth are left out at each gap, in turn.
    runs : sequence of int
        How many teeth stand behind each gap, in the same order; where left out, the usual order if there
        is one, else as even as can be.

    Returns
    -------
    WheelPattern

    Raises
    ------
    EngineDefinitionError
        If the numbers do not make up the wheel.
    """
    name = "-".join(str(k) for k in (n_places, *absent))
    n_teeth = n_places - sum(absent)
    if not absent or min(absent) < 1 or n_teeth < max(2, len(absent)):
        raise EngineDefinitionError(f"a wheel “{name}” cannot be", expected="fewer teeth left out than places")
    groups = tuple(runs) or _USUAL_RUNS.get((n_places, tuple(absent))) or _even_runs(n_teeth, len(absent))
    if len(groups) != len(absent) or min(groups) < 1 or sum(groups) != n_teeth:
        raise EngineDefinitionError(
            f"the groups of teeth {', '.join(map(str, groups))} do not make up a {name}",
            expected=f"{len(absent)} groups of {n_teeth} teeth together",
        )
    pitch = _TURN_DEG / n_places
    gaps = [gap for k, run in zip(absent, groups, strict=True) for gap in ((k + 1) * pitch, *([pitch] * (run - 1)))]
    return WheelPattern.from_gaps(gaps, name=name)


def _even_runs(n_teeth: int, n_groups: int) -> tuple[int, ...]:
    base, over = divmod(n_teeth, n_groups)
    return tuple(base + (i < over) for i in range(n_groups))


def plus(n_teeth: int, n_added: int = 1, at: float = _PLUS_PLACES[0]) -> WheelPattern:
    """A wheel of equal teeth with added ones between, dividing one pitch each.

    Parameters
    ----------
    n_teeth, n_added : int
        Equal teeth, and added teeth (in neighbouring pitches).
    at : float
        Where in its pitch an added tooth stands, 0..1 from the tooth before it.

    Returns
    -------
    WheelPattern

    Raises
    ------
    EngineDefinitionError
        If there are more added teeth than pitches, or ``at`` lies outside 0..1.
    """
    name = f"{n_teeth}+{n_added}"
    if not (1 <= n_added < max(n_teeth, 2) and 0.0 < at < 1.0):
        raise EngineDefinitionError(f"a wheel “{name}” cannot be", expected="fewer added teeth than equal ones")
    pitch = _TURN_DEG / n_teeth
    gaps = [at * pitch, (1.0 - at) * pitch] * n_added + [pitch] * (n_teeth - n_added)
    return WheelPattern.from_gaps(gaps, name=name)


def _coded_24() -> WheelPattern:
    """24 even edges; the other edge comes 5° or 10° before each of them."""
    lengths = [10.0 if bit == "1" else 5.0 for bit in _CODE_24]
    return WheelPattern.from_gaps([15.0] * 24, name="24 uneven", widths_deg=[15.0 - w for w in lengths])


def _uneven_4() -> WheelPattern:
    return WheelPattern.from_gaps([70.0, 110.0, 70.0, 110.0], name="4 uneven")


_WORDS = {"half moon": half_moon, "24 uneven": _coded_24, "4 uneven": _uneven_4}
_MISSING = re.compile(r"(\d+)((?:-\d+)+)(?:\s*\(([\d,\s]+)\))?")
_PLUS = re.compile(r"(\d+)\+(\d+)(?:\s*\(([\d.]+)\))?")
_PLAIN = re.compile(r"(\d+)(?: a turn)?")
_GAPS = re.compile(r"\d+(?:\.\d+)?(?:\s*[/,]\s*\d+(?:\.\d+)?)+")


def parse_wheel(text: str) -> WheelPattern:
    """The wheel that a name or a list of gaps describes, in its usual order of gaps.

    Parameters
    ----------
    text : str
        ``60-2``, ``36-2-1``, ``36-2-1 (17,16)`` with the teeth behind each gap, ``12+1``, ``12+1 (0.33)``
        with the place of the added tooth within its pitch, ``24 a turn``, ``24 uneven``, ``4 uneven``,
        ``half moon``, or the gaps themselves: ``70/110/70/110``.

    Returns
    -------
    WheelPattern

    Raises
    ------
    EngineDefinitionError
        For anything else; names the nearest usual name.
    """
    word = " ".join(text.lower().split())
    if word.replace("-", " ") in _WORDS:
        return _WORDS[word.replace("-", " ")]()
    if match := _MISSING.fullmatch(word):
        absent = [int(k) for k in match[2].split("-")[1:]]
        return missing(int(match[1]), absent, _integers(match[3]))
    if match := _PLUS.fullmatch(word):
        return plus(int(match[1]), int(match[2]), float(match[3] or _PLUS_PLACES[0]))
    if match := _PLAIN.fullmatch(word):
        return plain(int(match[1]))
    if _GAPS.fullmatch(word):
        return WheelPattern.from_gaps([float(g) for g in re.split(r"[/,]", word)])
    near = nearest(word, USUAL_NAMES)
    raise EngineDefinitionError(
        f"no tone wheel is called “{text}”",
        given=text,
        todo=f"Nearest: {near[0]}" if near else "Write 60-2, 36-2-1, 12+1, or its gaps in degrees: 70/110/70/110",
    )


def _integers(text: str | None) -> list[int]:
    return [int(k) for k in re.findall(r"\d+", text or "")]


@cache
def candidates(text: str) -> tuple[WheelPattern, ...]:
    """Every wheel that a name leaves possible, the usual one first.

    Parameters
    ----------
    text : str
        As for :func:`parse_wheel`.

    Returns
    -------
    tuple of WheelPattern
        One where the name says all; every order of gaps and teeth for several gaps; the usual places of an added tooth.

    Raises
    ------
    EngineDefinitionError
        If the name is not known.
    """
    usual = parse_wheel(text)
    word = " ".join(text.lower().split())
    found = [usual]
    if (match := _MISSING.fullmatch(word)) and not match[3]:
        absent = [int(k) for k in match[2].split("-")[1:]]
        found += list(_orders(int(match[1]), absent))
    elif (match := _PLUS.fullmatch(word)) and not match[3]:
        found += [plus(int(match[1]), int(match[2]), at) for at in _PLUS_PLACES]
    seen: dict[tuple[int, ...], WheelPattern] = {}
    for pattern in found:
        seen.setdefault(tuple(round(a / _SAME_DEG) for a in pattern.edges_deg), pattern)
    return tuple(seen.values())


def _orders(n_places: int, absent: Sequence[int]) -> Iterator[WheelPattern]:
    """All ways to share the teeth among the gaps, for all orders of the gaps."""
    n_teeth = n_places - sum(absent)
    if len(absent) < 2:
        return
    for order in sorted(set(itertools.permutations(absent))):
        for cuts in itertools.combinations(range(1, n_teeth), len(absent) - 1):
            runs = [b - a for a, b in itertools.pairwise((0, *cuts, n_teeth))]
            pattern = missing(n_places, order, runs)
            yield pattern.renamed("-".join(str(k) for k in (n_places, *absent)))
