"""Headings: from the text in the file to pieces that say something, and what each parameter's name would cost."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from witnessmark.recording.columns.lexicon import Lexicon, lexicon
from witnessmark.recording.columns.pieces import UNREAD, Meanings, Piece, folded

__all__ = ["NameMatch", "heading_pieces", "mended", "name_costs"]

UNNAMED = 7.5
"""Cost of a parameter of which the heading says nothing at all [nats]."""
NOTHING = 5.5
"""Cost of "nothing of the engine" for any heading [nats]."""
_UNKNOWN_WORD, _UNKNOWN_BIT, _MOST_UNKNOWN = 1.6, 0.5, 3.0
_IMPLIED, _LEAST_OF_NOTHING = 0.2, 3.0
_APOSTROPHE = re.compile(r"(?i)\b(d|l|dell|dall|nell|all|sull|qu|jusqu)['’´`](?=\w)")
_OXYGEN = re.compile(r"(?<![A-Za-z])[Hh]?[Oo][2₂]|(?<=[a-z])H?O[2₂]")
_WATER = re.compile(r"(?i)(?<![a-z])h[2₂]o(?![a-z])")
_ORDINAL = re.compile(r"(?i)(?<=\d)\s?(?:st|nd|rd|th|er|ère|ème|º|ª)\b")
_ROAD_SPEED = re.compile(r"(?i)(?<![a-z])(?:km\s?/\s?h|kph|mi/h)(?![a-z])")
_AIRCON = re.compile(r"(?i)(?<![a-z])a/c(?![a-z])|(?<![a-z])a\.c\.")
_PER_MINUTE = re.compile(r"(?i)(?<![a-z])(tr|u|t|r|rev|giri)\s?/\s?mi?n(?![a-z])|(?<![a-z])1/min|min-1|min⁻¹")
_SAID = (
    (_APOSTROPHE, " "),
    (_ORDINAL, " "),
    (_AIRCON, " aircon "),
    (_ROAD_SPEED, " kmh "),
    (_PER_MINUTE, " rpm "),
    (_WATER, " water "),
    (_OXYGEN, " oxygen "),
)
_TOKENS = re.compile(rf"[a-z{UNREAD}]+|\d+")
_WORD = re.compile(r"[^\W\d_]{2,}")
_CAMEL = re.compile(r"(?<=[a-zà-ÿ])(?=[A-ZÀ-Þ])|(?<=[A-Z])(?=[A-Z][a-zà-ÿ]{2})")
_LOST = re.compile(r"(?<=[^\W\d_])\?(?=[^\W\d_])|(?<![^\W\d_])\?(?=[^\W\d_]{2})")
_ODD = re.compile(r"(?<=[a-zA-Z])[^\x00-\x7f\w\s°º²³µ·–—’\"](?=[a-zA-Z])|[\x80-\x9f]")
_MISREAD = re.compile(r"[ÃÂ][\x80-\xbf\u0152-\u2122ƒ€]")


@dataclass(frozen=True, slots=True)
class NameMatch:
    """What a heading says for one parameter.

    Parameters
    ----------
    cost : float [nats]
        0 for a heading that says this and nothing else.
    told : float [nats]
        Weight of the concepts that the two share.
    """

    cost: float
    told: float


def mended(text: str) -> str:
    """A heading with the damage of a wrong encoding put right where that can be done, and marked where it cannot.

    Parameters
    ----------
    text : str

    Returns
    -------
    str

    Examples
    --------
    >>> mended("KÃ¼hlmittel")
    'Kühlmittel'
    """
    for encoding in ("cp1252", "latin-1"):
        if _MISREAD.search(text):
            try:
                text = text.encode(encoding).decode("utf-8")
            except UnicodeError:
                continue
    text = _LOST.sub(UNREAD, text)
    return _ODD.sub(UNREAD, text)


def heading_pieces(text: str, words: Lexicon | None = None) -> tuple[Piece, ...]:
    """The pieces of a heading, in order.

    Parameters
    ----------
    text : str
        Without its unit.
    words : Lexicon, optional

    Returns
    -------
    tuple of Piece
    """
    words = words or lexicon()
    text = _WORD.sub(lambda found: _humps(found[0], words), mended(text)[:200])
    for written, said in _SAID:
        text = written.sub(said, text)
    text = folded(text)
    pieces: list[Piece] = []
    for token in _TOKENS.findall(text):
        pieces += [Piece(token, {}, int(token[:9]))] if token.isdigit() else words.pieces(token)
    return _last_says_something(pieces)


def _humps(word: str, words: Lexicon) -> str:
    """A word cut before its capitals, unless it is known as a whole ("TMot")."""
    return word if words.words.get(folded(word)) else _CAMEL.sub(" ", word)


def _last_says_something(pieces: list[Piece]) -> tuple[Piece, ...]:
    """What may be "of the" within a heading is none at its end ("cam ex des")."""
    spoken = [i for i, piece in enumerate(pieces) if piece.number is None]
    if len(spoken) > 1:
        last = pieces[spoken[-1]]
        others = {meaning: cost for meaning, cost in last.meanings.items() if meaning != _FILLER}
        if others and len(others) < len(last.meanings) and len(last.text) > 1:
            least = min(others.values())
            others = {meaning: cost - least for meaning, cost in others.items()}
            pieces[spoken[-1]] = Piece(last.text, others)
    return tuple(pieces)


def name_costs(
    pieces: tuple[Piece, ...], implied: frozenset[str] = frozenset(), words: Lexicon | None = None
) -> Mapping[str, NameMatch]:
    """What it would cost each parameter to be called so.

    Parameters
    ----------
    pieces : tuple of Piece
    implied : frozenset of str
        Concepts that the unit says, so that the heading need not.
    words : Lexicon, optional

    Returns
    -------
    mapping of str to NameMatch
        By the parameter's id, all that have a name.
    """
    words = words or lexicon()
    spoken = [piece for piece in pieces if piece.number is None]
    unknown = sum(
        _UNKNOWN_WORD if len(p.text) >= 4 else _UNKNOWN_BIT for p in spoken if not p.meanings and not p.letter
    )
    unknown = min(unknown, _MOST_UNKNOWN)
    known = [piece.meanings for piece in spoken if piece.meanings]
    best: dict[str, NameMatch] = {}
    said = implied.union(*(meaning for meanings in known for meaning in meanings))
    for pattern in words.patterns:
        if not pattern.first and said.isdisjoint(pattern.needed):
            continue
        parameter = pattern.parameter
        least = _LEAST_OF_NOTHING if parameter == "nothing" else 0.0
        cost, told = _pattern_cost(known, pattern.concepts, implied, words, least)
        cost += unknown + pattern.base
        if told < 1.0:
            cost = max(cost, UNNAMED)
        if parameter not in best or cost < best[parameter].cost:
            best[parameter] = NameMatch(min(cost, 2.0 * UNNAMED), told)
    plain = NameMatch(NOTHING + 0.5 * unknown, 0.0)
    best["nothing"] = min(best.get("nothing", plain), plain, key=lambda match: match.cost)
    return best


_FILLER = ("filler",)
_PLACES = frozenset({"bank", "cylinder", "upstream", "downstream", "left", "right", "track"})


def _pattern_cost(
    known: list[Meanings], pattern: Mapping[str, bool], implied: frozenset[str], words: Lexicon, least: float
) -> tuple[float, float]:
    """Cost of the best reading of the pieces as this pattern, and the weight of what they share."""
    weights, missing = words.weights, words.missing
    cost, covered, extra = 0.0, set[str](), set[str]()
    for meanings in known:
        chosen: tuple[str, ...] = ()
        lowest, cheapest = float("inf"), 0.0
        for meaning, spelling in meanings.items():
            own = spelling
            for concept in meaning:
                if concept not in pattern:
                    own += 0.0 if concept in _PLACES else weights[concept]
                elif concept not in covered:
                    own -= missing[concept]
            if own < lowest:
                chosen, lowest = meaning, own
                cheapest = spelling
        cost += cheapest
        covered.update(c for c in chosen if c in pattern)
        extra.update(c for c in chosen if c not in pattern and c not in _PLACES)
    cost += sum(weights[c] for c in extra)
    cost += sum(
        _IMPLIED if c in implied else max(missing[c], least)
        for c, needed in pattern.items()
        if needed and c not in covered
    )
    return cost, sum(weights[c] for c in covered)
