"""The journal of a case: one event a line, added at the end, each holding the digest of the line before.

Nothing is ever taken out or changed. A line that a crash tore is kept where it is; the event after it says so.
Whoever changes a line breaks the digest in the next, and :func:`read_journal` says which.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from difflib import SequenceMatcher
from pathlib import Path
from typing import TypeAlias

from witnessmark.case.files import append_line
from witnessmark.errors import StoreError
from witnessmark.source import digest_bytes

__all__ = ["EVENTS", "Entry", "Event", "Journal", "Json", "append_events", "edits_between", "kept_text", "read_journal"]

Json: TypeAlias = "str | int | float | bool | Sequence[Json] | Mapping[str, Json] | None"

EVENTS = {
    "case_opened": "the case was opened; holds case.toml as it stood",
    "case_edited": "case.toml was edited; holds what was taken out and put in",
    "engine_edited": "engine.toml was added, edited or taken away",
    "owner_named": "an owner stands in owner.toml, under this key",
    "owner_erased": "owner.toml is gone; the key leads to nobody any more",
    "recording_added": "a recording came in",
    "recording_changed": "a recording, or what stands beside it, was changed outside",
    "recording_missing": "a recording is not in the folder any more",
    "assessed": "an answer was given and kept",
    "assessment_found": "an answer lay in the folder without an event of its own",
    "torn_line_kept": "the line before was cut off by a crash and is kept as it is",
    "line_changed": "a line of this journal is not as it was written",
}
FORMAT = "witnessmark/journal/1"


@dataclass(frozen=True, slots=True)
class Entry:
    """What is to be written: an event of :data:`EVENTS`, and what it is about."""

    what: str
    about: Mapping[str, Json] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Event:
    """One line of the journal.

    Parameters
    ----------
    number : int
        From 1.
    time : str
        UTC, ISO 8601.
    who, what : str
    about : mapping
    before : str, optional
        Digest of the line before; None in the first.
    """

    number: int
    time: str
    who: str
    what: str
    about: Mapping[str, Json]
    before: str | None

    def line(self) -> str:
        """The event as it stands in the file, without the line's end."""
        head: dict[str, Json] = {"number": self.number, "time": self.time, "who": self.who, "what": self.what}
        tail: dict[str, Json] = {"about": self.about, "before": self.before}
        opening: dict[str, Json] = {"format": FORMAT} if self.number == 1 else {}
        return json.dumps({**opening, **head, **tail}, ensure_ascii=False)


@dataclass(frozen=True, slots=True)
class Journal:
    """A journal as read.

    Parameters
    ----------
    events : tuple of Event
        Every whole one, in order.
    torn : str, optional
        The last line, where it is cut off.
    problems : tuple of str
        One sentence for each line that is not as it was written.
    last_line : bytes, optional
        The last line's bytes without its end, torn or whole: what the next event names.
    ends_whole : bool
        Whether the file ends with a line's end.
    """

    events: tuple[Event, ...] = ()
    torn: str | None = None
    problems: tuple[str, ...] = ()
    last_line: bytes | None = None
    ends_whole: bool = True

    @property
    def next_number(self) -> int:
        """Number of the event to come."""
        return self.events[-1].number + 1 if self.events else 1

    @property
    def head(self) -> str | None:
        """Digest of the last line: whoever notes it elsewhere can tell later that nothing was cut off."""
        return digest_bytes(self.last_line) if self.last_line is not None else None

    def last(self, *kinds: str) -> Event | None:
        """The last event of these kinds, or None."""
        return next((event for event in reversed(self.events) if event.what in kinds), None)


def read_journal(path: Path) -> Journal:
    """Read and verify a journal.

    Parameters
    ----------
    path : Path
        Need not be there.

    Returns
    -------
    Journal
        A journal that was tampered with is still read; ``problems`` says where.

    Raises
    ------
    StoreError
        If the file cannot be read.
    """
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        return Journal()
    except OSError as error:
        raise StoreError(f"the journal {path} cannot be read: {error.strerror}") from None
    return _verified(data, path.name)


def _verified(data: bytes, name: str) -> Journal:
    lines = data.split(b"\n")
    ends_whole = lines[-1] == b""
    if ends_whole:
        lines.pop()
    events: list[Event] = []
    problems: list[str] = []
    before: bytes | None = None
    unread: int | None = None  # line number of a line that is no event, until the next one vouches for it
    for row, line in enumerate(lines, start=1):
        event = _event(line)
        if event is None:
            if unread is not None:
                problems.append(f"{name}, line {unread}: this is no event any more")
            unread = row
        else:
            problems += _broken_links(event, events, before, unread, f"{name}, line {row}")
            events.append(event)
            unread = None
        before = line
    torn = None
    if unread is not None and unread == len(lines):
        torn = lines[-1].decode("utf-8", errors="replace")
    return Journal(tuple(events), torn, tuple(problems), before, ends_whole)


def _broken_links(
    event: Event, events: Sequence[Event], before: bytes | None, unread: int | None, where: str
) -> list[str]:
    found = []
    expected = digest_bytes(before) if before is not None else None
    if event.before != expected:
        found.append(f"{where}: the line before it is not as it was written")
    elif unread is not None and event.what != "torn_line_kept":
        found.append(f"{where}: the line before it is no event, and nothing says why")
    number = events[-1].number + 1 if events else 1
    if event.number != number:
        found.append(f"{where}: event {event.number} stands where {number} belongs")
    return found


def _event(line: bytes) -> Event | None:
    """The event in a line, or None where the line is none."""
    try:
        raw = json.loads(line)
        event = Event(raw["number"], raw["time"], raw["who"], raw["what"], raw["about"], raw["before"])
    except (ValueError, KeyError, TypeError):
        return None
    fits = isinstance(event.number, int) and isinstance(event.what, str) and isinstance(event.about, Mapping)
    return event if fits else None


def append_events(path: Path, entries: Iterable[Entry], *, who: str, now: datetime | None = None) -> Journal:
    """Add events to a journal. The caller holds the folder (:func:`witnessmark.case.files.held`).

    Parameters
    ----------
    path : Path
    entries : iterable of Entry
    who : str
    now : datetime, optional
        The present if left out.

    Returns
    -------
    Journal
        As it stands afterwards.

    Raises
    ------
    StoreError
        If the events cannot be kept; the journal is as it was before, or its last line is torn.
    """
    journal = read_journal(path)
    wanted = list(entries)
    for entry in wanted:
        if entry.what not in EVENTS:
            raise ValueError(f"no event is called {entry.what!r}")
    if not wanted:
        return journal
    time = (now or datetime.now(UTC)).astimezone(UTC).isoformat(timespec="seconds")
    if journal.torn is not None:
        wanted.insert(0, Entry("torn_line_kept", {"bytes": len(journal.last_line or b"")}))
    said = {event.about.get("problem") for event in journal.events if event.what == "line_changed"}
    wanted += [Entry("line_changed", {"problem": problem}) for problem in journal.problems if problem not in said]
    text = "" if journal.ends_whole else "\n"
    before = journal.last_line
    for number, entry in enumerate(wanted, start=journal.next_number):
        link = digest_bytes(before) if before is not None else None
        line = Event(number, time, who, entry.what, entry.about, link).line()
        before = line.encode("utf-8")
        text += line + "\n"
    append_line(path, text)
    return read_journal(path)


def edits_between(old: str, new: str) -> list[Json]:
    r"""What was taken out and put in between two texts, line by line.

    Parameters
    ----------
    old, new : str

    Returns
    -------
    list of mapping
        ``line`` (number in the old text, from 1), ``was`` and ``now`` (lines with their ends).

    Examples
    --------
    >>> edits_between("a\nb\n", "a\nc\n")
    [{'line': 2, 'was': ['b\n'], 'now': ['c\n']}]
    """
    a, b = old.splitlines(keepends=True), new.splitlines(keepends=True)
    codes = SequenceMatcher(None, a, b, autojunk=False).get_opcodes()
    return [{"line": i + 1, "was": a[i:j], "now": b[k:m]} for tag, i, j, k, m in codes if tag != "equal"]


def kept_text(journal: Journal) -> str | None:
    """The text of ``case.toml`` as last entered, put together from the journal alone.

    Parameters
    ----------
    journal : Journal

    Returns
    -------
    str or None
        None where no case was opened.

    Raises
    ------
    StoreError
        If the edits do not fit what was there: the journal was changed.
    """
    text: str | None = None
    for event in journal.events:
        if event.what == "case_opened":
            text = "".join(_lines(event.about.get("text")))
        elif event.what == "case_edited" and text is not None:
            text = _edited(text, event)
        else:
            continue
        if digest_bytes(text.encode("utf-8")) != event.about.get("digest"):
            raise StoreError(f"journal.jsonl: event {event.number} does not give the case.toml it speaks of")
    return text


def _lines(value: Json) -> list[str]:
    return [str(line) for line in value] if isinstance(value, Sequence) and not isinstance(value, str) else []


def _edited(text: str, event: Event) -> str:
    lines = text.splitlines(keepends=True)
    edits = event.about.get("edits")
    for edit in reversed(edits if isinstance(edits, Sequence) and not isinstance(edits, str) else []):
        if not isinstance(edit, Mapping):
            continue
        start = int(str(edit.get("line", 1))) - 1
        was = _lines(edit.get("was"))
        if lines[start : start + len(was)] != was:
            raise StoreError(f"journal.jsonl: event {event.number} edits lines that were not there")
        lines[start : start + len(was)] = _lines(edit.get("now"))
    return "".join(lines)
