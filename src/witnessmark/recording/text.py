"""Bytes of a file to lines of text: encodings, line ends, and what is no text at all."""

from __future__ import annotations

import codecs
from dataclasses import dataclass

from witnessmark.errors import DamagedRecording, FormatError

__all__ = ["Text", "decode_words", "to_text", "why_not_text"]

# A few bytes spoilt within a table are damage, to be named by their line; a file full of them is another kind of file.
# Control characters that no table of numbers holds; tab, line feed, form feed, carriage return and escape may occur.
_CONTROL = bytes(code for code in range(32) if code not in (9, 10, 12, 13, 27))
_UTF16 = ((codecs.BOM_UTF16_LE, "utf-16-le"), (codecs.BOM_UTF16_BE, "utf-16-be"))


@dataclass(frozen=True, slots=True)
class Text:
    """The content of a text file.

    Parameters
    ----------
    data : bytes
        One byte per plain character, without byte-order mark, lines ended by line feeds.
    notes : tuple of str
        What had to be done to get it.
    """

    data: bytes
    notes: tuple[str, ...] = ()


def to_text(data: bytes, where: str) -> Text:
    """The text in a file's bytes.

    Parameters
    ----------
    data : bytes
        The whole file, or its beginning.
    where : str
        File name, for messages.

    Returns
    -------
    Text

    Raises
    ------
    DamagedRecording
        The file is empty.
    FormatError
        The file is not text.
    """
    if not data.strip():
        raise DamagedRecording("the file is empty", given=f"{len(data)} bytes", where=where, todo="Export it again")
    encoding = _wide_encoding(data)
    notes: tuple[str, ...] = ()
    if encoding:
        notes = (f"read as {encoding.upper()} text",)
        # A file cut in the middle of a character loses that character only; its row is then found to be cut.
        data = data.decode(encoding, errors="ignore").lstrip("\ufeff").encode("utf-8")
    else:
        data = data.removeprefix(codecs.BOM_UTF8)
    reason = why_not_text(data)
    if reason:
        raise FormatError(
            f"not a table of text: {reason}", given="binary data", where=where, todo="Export the recording as CSV"
        )
    if b"\n" not in data:
        data = data.replace(b"\r", b"\n")
    return Text(data, notes)


def _wide_encoding(data: bytes) -> str | None:
    for mark, name in _UTF16:
        if data.startswith(mark):
            return name
    head = data[:2048]
    # Plain characters in two bytes each: every second byte is zero, the others are not.
    for first, name in ((1, "utf-16-le"), (0, "utf-16-be")):
        zeros, others = head[first::2], head[1 - first :: 2]
        if len(head) >= 8 and zeros.count(0) > 0.9 * len(zeros) and others.count(0) == 0:
            return name
    return None


def why_not_text(data: bytes) -> str | None:
    """Why the beginning of these bytes is no text, in words; None when it is."""
    head = data[:65_536]
    strange = len(head) - len(head.translate(None, _CONTROL))
    if strange > max(2, 0.03 * len(head)):
        return f"{strange} of its first {len(head)} bytes are control characters"
    try:
        codecs.getincrementaldecoder("utf-8")().decode(head)
    except UnicodeDecodeError:
        high = sum(byte >= 0x80 for byte in head)
        if high > 0.1 * len(head):
            return f"{high} of its first {len(head)} bytes belong to no readable encoding"
    return None


def decode_words(data: bytes) -> str:
    """Headings and remarks as text: UTF-8, else the Western single-byte encoding."""
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")
