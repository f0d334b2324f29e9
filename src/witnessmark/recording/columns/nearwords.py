"""Words within a run of letters, with few letters too many, missing, wrong or exchanged."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

__all__ = ["NearWords"]


class NearWords:
    """Words to be found though they are misspelt.

    Parameters
    ----------
    words : sequence of str
        Of four letters and more.
    unread : str
        A sign that stands for any letter.
    """

    def __init__(self, words: Sequence[str], unread: str) -> None:
        self._words, self._unread = tuple(words), unread
        self._lengths = np.array([len(word) for word in words])
        self._longest = int(self._lengths.max())
        self._codes = np.zeros((len(words), self._longest), dtype=np.uint32)
        for k, word in enumerate(words):
            self._codes[k, : len(word)] = [ord(c) for c in word]

    def places(self, token: str) -> list[tuple[int, int, str, int]]:
        """Each place where a word stands with few letters wrong.

        Parameters
        ----------
        token : str

        Returns
        -------
        list of (int, int, str, int)
            Where it begins and ends, the word, and how many edits it takes.

        Notes
        -----
        Edits are counted as by Damerau and Levenshtein (letters too many, missing, wrong, or two neighbours
        exchanged): the table of their recurrence, for all words and all beginnings at once, a letter of the token at
        a time.
        """
        n = len(token)
        codes = np.array([ord(c) for c in token], dtype=np.uint32)
        starts = np.arange(n)
        allowed = np.where(self._lengths >= 12, 3, np.where(self._lengths >= 8, 2, 1))
        rows: NDArray[np.int8] = np.empty((self._longest + 1, n, len(self._words)), dtype=np.int8)
        rows[:] = np.arange(self._longest + 1, dtype=np.int8)[:, None, None]
        before = rows
        found: list[tuple[int, int, str, int]] = []
        for j in range(min(n, self._longest + 2)):
            at = np.minimum(starts + j, n - 1)
            letters = codes[at][:, None]
            previous = codes[np.maximum(at - 1, 0)][:, None]
            new = np.empty_like(rows)
            new[0] = j + 1
            for i in range(1, self._longest + 1):
                theirs = self._codes[:, i - 1][None, :]
                wrong = ((letters != theirs) & (letters != ord(self._unread))).astype(np.int8)
                new[i] = np.minimum(np.minimum(rows[i] + 1, new[i - 1] + 1), rows[i - 1] + wrong)
                if i > 1 and j > 0:
                    crossed = (letters == self._codes[:, i - 2][None, :]) & (previous == theirs)
                    new[i] = np.where(crossed, np.minimum(new[i], before[i - 2] + 1), new[i])
            before, rows = rows, new
            edits = np.take_along_axis(rows, self._lengths[None, None, :], axis=0)[0]
            fits = (edits <= allowed) & (starts + j < n)[:, None]
            # A short word is looked for only in the place of the whole token, or within a long compound.
            fits &= (self._lengths >= (4 if n > 12 else 5)) | ((starts == 0) & (j == n - 1))[:, None]
            for start, k in zip(*np.nonzero(fits), strict=True):
                if edits[start, k] or self._unread in token[start : start + j + 1]:
                    found.append((int(start), int(start) + j + 1, self._words[k], int(edits[start, k])))
        return found
