"""The words of headings: what each says, found exactly, glued together, shortened or misspelt."""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["UNREAD", "Lexicon", "Meanings", "Piece", "folded", "lexicon"]

Meanings = dict[tuple[str, ...], float]
"""What a piece of a heading may say (one or more concepts), and what believing so costs, in nats."""

UNREAD = "\ufffd"
"""Stands for a letter that a broken encoding lost."""

_PLAIN = str.maketrans(
    {"ß": "ss", "æ": "ae", "ø": "o", "œ": "oe", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "ı": "i", "λ": "lambda"}
)
_UMLAUTS = {"ä": "ae", "ö": "oe", "ü": "ue"}
_LINKS = ("s", "n", "e", "es", "en", "er", "d", "de")
_VOWELS = re.compile("[aeiouy]")
# A cost is minus a log of odds: a letter too many in one word of twelve letters is commoner than in one of five.
_EDIT, _JOINT, _SKIPPED, _LINK, _PREFIX, _LETTERS, _PLURAL = 1.1, 0.25, 1.0, 0.15, 0.8, 1.0, 0.2
_NEAR = 1.6
_LONGEST_TOKEN = 40


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
    return "".join(c if c.isascii() or not c.isprintable() or c == UNREAD else UNREAD if c.isalpha() else c for c in kept)


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
        self.weights: dict[str, float] = {concept: 3.0 for concept in tables["concepts"]} | tables["weights"]
        self.missing: dict[str, float] = self.weights | tables["missing"]
        self.words: dict[str, set[tuple[str, ...]]] = {}
        for concept, text in tables["concepts"].items():
            for word in text.split():
                self._add(word, (concept,))
        for short, texts in tables["abbreviations"].items():
            for text in texts:
                self._add(short, tuple(text.split()))
        self.patterns = tuple(
            (parameter, pattern)
            for parameter, texts in tables["parameters"].items()
            for pattern in dict.fromkeys(_pattern(text) for text in texts)
        )
        self._longest = max(map(len, self.words))
        self._list = [word for word in self.words if len(word) >= 4]
        self._codes = np.zeros((len(self._list), self._longest), dtype=np.uint32)
        for k, word in enumerate(self._list):
            self._codes[k, : len(word)] = [ord(c) for c in word]
        self._lengths = np.array([len(word) for word in self._list])
        self._known: dict[str, tuple[Piece, ...]] = {}

    def _add(self, word: str, concepts: tuple[str, ...]) -> None:
        spellings = {folded(word)}
        if any(c in _UMLAUTS for c in word):
            spellings.add(folded("".join(_UMLAUTS.get(c, c) for c in word)))
        for spelling in spellings:
            self.words.setdefault(spelling, set()).add(concepts)

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
        if len(path) == 1 and path[0][0] == token:
            for meaning, own in path[0][1].items():
                _keep(whole, (meaning,), own)
        if whole and min(whole.values()) <= cost:
            return (Piece(token, _near(whole)),)
        if cost > min(4.0, 0.45 * len(token)):
            return (Piece(token, _near(whole)),)
        return tuple(Piece(text, meanings) for text, meanings in path)

    def _whole(self, token: str) -> Meanings:
        """The token as one word: exact, in the plural, cut short, or without its vowels."""
        found: Meanings = {}
        _keep(found, self.words.get(token, ()), 0.0)
        for ending in ("s", "es", "n", "en"):
            if len(token) > len(ending) + 3 and token.endswith(ending):
                _keep(found, self.words.get(token.removesuffix(ending), ()), _PLURAL)
        if 2 <= len(token) <= 9 and UNREAD not in token and not any(meaning == ("filler",) for meaning in found):
            if len(token) <= 4 or not found:
                self._shortened(token, found)
        return found

    def _shortened(self, token: str, found: Meanings) -> None:
        """Words of which the token is the beginning, or some letters in their order ("clnt", "vlts", "tmp")."""
        for word, concepts in self.words.items():
            extra = len(word) - len(token)
            if extra <= 0 or word[0] != token[0] or len(word) < 4 or len(word) > 3 * len(token) + 2:
                continue
            if word.startswith(token):
                if len(token) >= 3:
                    _keep(found, concepts, _PREFIX + 1.2 / len(token))
            elif _holds(word, token):
                cost = _LETTERS + 0.1 * extra + (0.8 if len(token) == 2 else 0.0) + (0.0 if word[-1] == token[-1] else 0.2)
                _keep(found, concepts, cost + (0.0 if _VOWELS.search(token[1:]) is None else 0.5))

    def _compound(self, token: str) -> tuple[float, list[tuple[str, Meanings]]]:
        """The cheapest way to cut a token into words, links and letters that say nothing."""
        n = len(token)
        edges = self._edges(token)
        best: list[tuple[float, int, str]] = [(0.0, 0, "")] + [(np.inf, 0, "")] * n
        for start in range(n):
            base = best[start][0]
            steps = [(start + 1, _SKIPPED, "skip")]
            steps += [(start + len(x), _LINK, "link") for x in _LINKS if 0 < start and token.startswith(x, start)]
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
                if text in self.words and (end - start > 2 or text in ("ol", "nw", "dk")):
                    cost = _JOINT + {2: 0.5, 3: 0.5, 4: 0.15}.get(end - start, 0.0)
                    _keep(edges.setdefault((start, end), {}), self.words[text], cost)
        for start, length, k, edits in self._nearly(token):
            is_whole = start == 0 and length == n
            cost = edits * _EDIT * (8.0 / self._lengths[k]) ** 0.5 + (0.0 if is_whole else _JOINT)
            _keep(edges.setdefault((start, start + length), {}), self.words[self._list[k]], float(cost))
        return edges

    def _nearly(self, token: str) -> Iterable[tuple[int, int, int, int]]:
        """Start, length, word and edits of each place where a word stands with few letters wrong.

        Edits are counted as by Damerau and Levenshtein (letters too many, missing, wrong, or two exchanged), for all words
        and all places at once.
        """
        n = len(token)
        codes = np.array([ord(c) for c in token], dtype=np.uint32)
        starts = np.arange(n)
        allowed = np.where(self._lengths >= 12, 3, np.where(self._lengths >= 8, 2, 1))
        rows: NDArray[np.int8] = np.empty((self._longest + 1, n, len(self._list)), dtype=np.int8)
        rows[:] = np.arange(self._longest + 1, dtype=np.int8)[:, None, None]
        before = rows
        found: list[tuple[int, int, int, int]] = []
        for j in range(min(n, self._longest + 2)):
            at = np.minimum(starts + j, n - 1)
            letters = codes[at][:, None]
            previous = codes[np.maximum(at - 1, 0)][:, None]
            new = np.empty_like(rows)
            new[0] = j + 1
            for i in range(1, self._longest + 1):
                theirs = self._codes[:, i - 1][None, :]
                wrong = ((letters != theirs) & (letters != ord(UNREAD))).astype(np.int8)
                new[i] = np.minimum(np.minimum(rows[i] + 1, new[i - 1] + 1), rows[i - 1] + wrong)
                if i > 1 and j > 0:
                    crossed = (letters == self._codes[:, i - 2][None, :]) & (previous == theirs)
                    new[i] = np.where(crossed, np.minimum(new[i], before[i - 2] + 1), new[i])
            before, rows = rows, new
            edits = np.take_along_axis(rows, self._lengths[None, None, :], axis=0)[0]
            fits = (edits <= allowed) & (starts + j < n)[:, None]
            # A short word is looked for only in the place of the whole token.
            fits &= (self._lengths >= 5) | ((starts == 0) & (j == n - 1))[:, None]
            for start, k in zip(*np.nonzero(fits), strict=True):
                if edits[start, k] or UNREAD in token[start : start + j + 1]:
                    found.append((int(start), j + 1, int(k), int(edits[start, k])))
        return found


def _pattern(text: str) -> tuple[tuple[str, bool], ...]:
    """Concepts of one way to call a parameter, and whether each is needed."""
    return tuple(sorted((word.rstrip("?"), not word.endswith("?")) for word in text.split()))


def _holds(word: str, token: str) -> bool:
    """Whether the letters of the token stand in the word in their order."""
    at = 0
    for letter in token:
        at = word.find(letter, at) + 1
        if not at:
            return False
    return True


def _keep(found: Meanings, meanings: Iterable[tuple[str, ...]], cost: float) -> None:
    for meaning in meanings:
        found[meaning] = min(cost, found.get(meaning, np.inf))


def _near(meanings: Meanings) -> Meanings:
    """Those that cost little more than the cheapest."""
    least = min(meanings.values(), default=0.0)
    return {meaning: cost for meaning, cost in meanings.items() if cost <= least + _NEAR}
