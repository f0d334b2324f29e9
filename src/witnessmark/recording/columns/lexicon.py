"""The words of headings: what each says, found exactly, glued together, shortened or misspelt."""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np

from witnessmark.recording.columns.nearwords import NearWords
from witnessmark.recording.parameters import parameters

__all__ = ["UNREAD", "Lexicon", "Meanings", "Piece", "folded", "lexicon"]

Meanings = dict[tuple[str, ...], float]
"""What a piece of a heading may say (one or more concepts), and what believing so costs, in nats."""

UNREAD = "\ufffd"
"""Stands for a letter that a broken encoding lost."""

_PLAIN = str.maketrans(
    {"ß": "ss", "æ": "ae", "ø": "o", "œ": "oe", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "ı": "i", "λ": "lambda"}
)
_UMLAUTS = {"ä": "ae", "ö": "oe", "ü": "ue"}
# What stands between the words of a compound, or of words written without a blank.
_LINKS = ("s", "n", "e", "es", "en", "er", "d", "l", "de", "do", "da", "du", "di", "del", "dos", "das", "von")
_DOUBLED, _DOUBLED_COST = re.compile(r"(.)\1+"), 0.8
_VOWELS = re.compile("[aeiouy]")
# A cost is minus a log of odds: a letter too many in one word of twelve letters is commoner than in one of five.
_EDIT, _JOINT, _SKIPPED, _LINK, _PREFIX, _LETTERS, _BARE, _PLURAL = 1.1, 0.25, 1.0, 0.15, 0.8, 1.0, 0.6, 0.2
_NEAR, _BESIDE_EXACT, _FORMULA = 3.0, 1.1, 1.5
_WEIGHT = 3.5
_LONGEST_TOKEN = 40
_NOT_OF_ENGINE = (
    "vehicle_speed",
    "gear",
    "time",
    "clock",
    "odometer",
    "outside_air",
    "barometer",
    "fuel_level",
    "nothing",
    "ethanol",
)
# What is asked of an actuator is called by its valve, its duty or its position as well.
_ACTUATORS = ("egr_command", "purge_command", "idle_air")
_AROUND_CATALYST = ("o2_voltage", "o2_current", "lambda", "sensor_trim")


@dataclass(frozen=True, slots=True)
class Piece:
    """A piece of a heading.

    Parameters
    ----------
    text : str
        Folded.
    meanings : dict
        Empty for a word that is not known.
    number : int or None
        Where it is a number.
    """

    text: str
    meanings: Meanings
    number: int | None = None

    @property
    def letter(self) -> str | None:
        """The letter, where it is a single one."""
        return self.text if len(self.text) == 1 and self.text.isalpha() else None


def folded(text: str) -> str:
    """Small letters without marks; a letter that an encoding lost stays :data:`UNREAD`.

    Parameters
    ----------
    text : str

    Returns
    -------
    str

    Examples
    --------
    >>> folded("Öldruck")
    'oldruck'
    """
    plain = unicodedata.normalize("NFKD", text.casefold().translate(_PLAIN))
    kept = "".join(c for c in plain if not unicodedata.combining(c))
    return "".join(
        c if c.isascii() or not c.isprintable() or c == UNREAD else UNREAD if c.isalpha() else c for c in kept
    )


@cache
def lexicon() -> Lexicon:
    """The words that are shipped (``data/columnwords.toml``)."""
    return Lexicon(tomllib.loads(files("witnessmark").joinpath("data/columnwords.toml").read_text(encoding="utf-8")))


class Lexicon:
    """Words and what they say.

    Parameters
    ----------
    tables : mapping
        As read from ``columnwords.toml``.
    """

    def __init__(self, tables: Mapping[str, Any]) -> None:
        self.weights: dict[str, float] = dict.fromkeys(tables["concepts"], _WEIGHT) | tables["weights"]
        self.missing: dict[str, float] = {
            concept: weight * (1.5 if weight >= 3.0 else 1.0) for concept, weight in self.weights.items()
        } | tables["missing"]
        self.words: dict[str, Meanings] = {}
        for concept, text in tables["concepts"].items():
            for word in text.split():
                self._add(word, (concept,))
        for short, texts in tables["abbreviations"].items():
            for text in texts:
                concepts, _, cost = text.partition("~")
                self._add(short, tuple(concepts.split()), float(cost or 0.0))
        self.patterns = tuple(
            (parameter, base, pattern)
            for parameter, texts in tables["parameters"].items()
            for base, pattern in dict.fromkeys(_pattern(text, parameter) for text in texts)
        )
        self._longest = max(map(len, self.words))
        long = [word for word in self.words if len(word) >= 4]
        self._near = NearWords(long, UNREAD)
        self._skeletons: dict[str, list[str]] = {}
        for word in self.words:
            if len(word) >= 4:
                self._skeletons.setdefault(word[:1] + _VOWELS.sub("", word[1:]), []).append(word)
        self._begin: dict[str, list[str]] = {}
        for word in long:
            self._begin.setdefault(word[:4], []).append(word)
        self._known: dict[str, tuple[Piece, ...]] = {}

    def _add(self, word: str, concepts: tuple[str, ...], cost: float = 0.0) -> None:
        spellings = {folded(word)}
        if any(c in _UMLAUTS for c in word):
            spellings.add(folded("".join(_UMLAUTS.get(c, c) for c in word)))
        for spelling in spellings:
            _keep(self.words.setdefault(spelling, {}), {concepts: cost}, 0.0)

    def pieces(self, token: str) -> tuple[Piece, ...]:
        """What a run of letters says.

        Parameters
        ----------
        token : str
            Folded letters.

        Returns
        -------
        tuple of Piece
            One for a word, several for a compound; a word without meanings where nothing fits.
        """
        if token not in self._known:
            if len(self._known) > 20_000:
                self._known.clear()
            self._known[token] = self._pieces(token[:_LONGEST_TOKEN])
        return self._known[token]

    def _pieces(self, token: str) -> tuple[Piece, ...]:
        whole = self._whole(token)
        if whole and min(whole.values()) < 0.5:
            return (Piece(token, _near(whole)),)
        if len(token) < 4:
            return (Piece(token, _near(whole)),)
        cost, path = self._compound(token)
        single = _DOUBLED.sub(r"\1", token)
        if single != token and len(single) >= 3:
            _keep(whole, self.words.get(single, {}), _DOUBLED_COST)
            other = self._compound(single) if len(single) >= 4 else (np.inf, [])
            if other[0] + _DOUBLED_COST < cost:
                cost, path = other[0] + _DOUBLED_COST, other[1]
        if len(path) == 1 and path[0][0] == token:
            for meaning, own in path[0][1].items():
                _keep(whole, {meaning: own}, 0.0)
        if whole and min(whole.values()) <= cost:
            return (Piece(token, _near(whole)),)
        if cost > min(4.0, 0.45 * len(token)):
            return (Piece(token, _near(whole)),)
        return tuple(Piece(text, meanings) for text, meanings in path)

    def _whole(self, token: str) -> Meanings:
        """The token as one word: exact, in the plural, cut short, or without its vowels."""
        found: Meanings = {}
        _keep(found, self.words.get(token, {}), 0.0)
        for ending in ("s", "es", "n", "en"):
            if len(token) > len(ending) + 3 and token.endswith(ending):
                _keep(found, self.words.get(token.removesuffix(ending), {}), _PLURAL)
        may_be_short = 2 <= len(token) <= (4 if found else 9) and UNREAD not in token
        if may_be_short and (len(token) > 2 or ("filler",) not in found):
            self._shortened(token, found, _BESIDE_EXACT if found else 0.0)
        return found

    def _shortened(self, token: str, found: Meanings, surcharge: float) -> None:
        """Words of which the token is the beginning, or some letters in their order ("clnt", "vlts", "tmp")."""
        for word, concepts in self.words.items():
            extra = len(word) - len(token)
            if extra <= 0 or word[0] != token[0] or len(word) < 4 or len(word) > 3 * len(token) + 2:
                continue
            if word.startswith(token):
                if len(token) >= 3:
                    _keep(found, concepts, surcharge + _PREFIX + 1.2 / len(token))
            elif word in self._skeletons.get(token, ()):
                _keep(found, concepts, surcharge + _BARE + (0.5 if len(token) == 2 else 0.0))
            elif _holds(word, token):
                cost = (
                    surcharge
                    + _LETTERS
                    + 0.1 * extra
                    + (0.8 if len(token) == 2 else 0.0)
                    + (0.0 if word[-1] == token[-1] else 0.2)
                )
                _keep(found, concepts, cost + (0.0 if _VOWELS.search(token[1:]) is None else 0.5))

    def _compound(self, token: str) -> tuple[float, list[tuple[str, Meanings]]]:
        """The cheapest way to cut a token into words, links and letters that say nothing."""
        n = len(token)
        edges = self._edges(token)
        best: list[tuple[float, int, str]] = [(0.0, 0, "")] + [(np.inf, 0, "")] * n
        for start in range(n):
            base = best[start][0]
            steps = [(start + 1, _SKIPPED, "skip")]
            steps += [(start + len(x), _LINK, "link") for x in _LINKS if start > 0 and token.startswith(x, start)]
            steps += [(end, min(m.values()), "word") for (s, end), m in edges.items() if s == start]
            for end, cost, kind in steps:
                if end <= n and base + cost < best[end][0]:
                    best[end] = (base + cost, start, kind)
        path: list[tuple[str, Meanings]] = []
        at = n
        while at > 0:
            _, start, kind = best[at]
            if kind == "word":
                path.append((token[start:at], _near(edges[start, at])))
            at = start
        return best[n][0], path[::-1]

    def _edges(self, token: str) -> dict[tuple[int, int], Meanings]:
        """Words at each place within a token, exact and nearly so."""
        n = len(token)
        edges: dict[tuple[int, int], Meanings] = {}
        for start in range(n):
            for end in range(start + 2, min(n, start + self._longest) + 1):
                text = token[start:end]
                if text in self.words and (end - start > 2 or text in ("ol", "nw", "dk", "ar")):
                    cost = _JOINT + {2: 0.5, 3: 0.5, 4: 0.15}.get(end - start, 0.0)
                    # A short form of several words is seldom part of another word.
                    cost += _FORMULA if n > 8 and all(len(meaning) > 1 for meaning in self.words[text]) else 0.0
                    _keep(edges.setdefault((start, end), {}), self.words[text], cost)
        if _VOWELS.search(token[1:]) is None:
            self._bare_edges(token, edges)
        for start in range(1, n - 3):
            for word in self._begin.get(token[start : start + 4], ()):
                if word.startswith(token[start:]) and len(word) > n - start:
                    _keep(edges.setdefault((start, n), {}), self.words[word], _JOINT + _PREFIX + 1.2 / (n - start))
        for start, end, word, edits in self._near.places(token):
            cost = edits * _EDIT * (8.0 / len(word)) ** 0.5 + (0.0 if (start, end) == (0, n) else _JOINT)
            _keep(edges.setdefault((start, end), {}), self.words[word], cost)
        return edges

    def _bare_edges(self, token: str, edges: dict[tuple[int, int], Meanings]) -> None:
        """Words without their vowels in a compound without vowels."""
        for start in range(len(token)):
            for end in range(start + 3, min(len(token), start + self._longest) + 1):
                for word in self._skeletons.get(token[start:end], ()):
                    cost = _JOINT + _BARE + (0.4 if end - start == 3 else 0.0)
                    _keep(edges.setdefault((start, end), {}), self.words[word], cost)


def _pattern(text: str, parameter: str) -> tuple[float, tuple[tuple[str, bool], ...]]:
    """What one way to call a parameter costs by itself, its concepts, and whether each is needed."""
    text, _, base = text.partition("~")
    concepts = {word.rstrip("?"): not word.endswith("?") for word in text.split()}
    keys = parameters()[parameter].keys
    beside: tuple[str, ...] = () if parameter in _NOT_OF_ENGINE else ("engine",)
    if "cam" in keys:
        beside += ("intake", "exhaust")
    if parameter in _ACTUATORS:
        beside += ("target", "valve", "duty", "position")
    if parameter in _AROUND_CATALYST:
        beside += ("catalyst",)
    return float(base or 0.0), tuple(sorted((dict.fromkeys(beside, False) | concepts).items()))


def _holds(word: str, token: str) -> bool:
    """Whether the letters of the token stand in the word in their order."""
    at = 0
    for letter in token:
        at = word.find(letter, at) + 1
        if not at:
            return False
    return True


def _keep(found: Meanings, meanings: Meanings, cost: float) -> None:
    for meaning, own in meanings.items():
        found[meaning] = min(own + cost, found.get(meaning, np.inf))


def _near(meanings: Meanings) -> Meanings:
    """Those that cost little more than the cheapest."""
    least = min(meanings.values(), default=0.0)
    return {meaning: cost for meaning, cost in meanings.items() if cost <= least + _NEAR}
