"""The case folder: what stands where, what changed since it was last looked at, and how an answer is kept.

Everything is read and computed before anything is written; then, with the folder held, the answer is written as a
new file and the journal takes all events at once. A crash leaves the folder as it was, or with one answer more.
"""

from __future__ import annotations

import getpass
import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from witnessmark.case.files import held, read_text, write_new, write_whole
from witnessmark.case.journal import Entry, Journal, append_events, edits_between, kept_text, read_journal
from witnessmark.case.owner import ensure_key, read_owner, refuse_owner_in
from witnessmark.case.record import CaseRecord, read_record
from witnessmark.engine.types import Engine
from witnessmark.errors import InputError, StoreError, nearest
from witnessmark.source import digest_bytes, digest_file

__all__ = ["CaseFolder", "Kept", "open_case", "who_am_i"]

_SIDECAR = ".toml"


@dataclass(frozen=True, slots=True)
class Kept:
    """An answer that was kept.

    Parameters
    ----------
    number : int
    path : Path
    text : str
        As written.
    notes : tuple of str
        What was noticed about the folder, for people.
    """

    number: int
    path: Path
    text: str
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CaseFolder:
    """One case on disk."""

    path: Path

    @property
    def case_toml(self) -> Path:
        """What a person types."""
        return self.path / "case.toml"

    @property
    def owner_toml(self) -> Path:
        """Whose vehicle it is."""
        return self.path / "owner.toml"

    @property
    def engine_toml(self) -> Path:
        """The engine's description, where the case has its own."""
        return self.path / "engine.toml"

    @property
    def journal(self) -> Path:
        """What happened."""
        return self.path / "journal.jsonl"

    @property
    def assessments(self) -> Path:
        """The answers, verbatim."""
        return self.path / "assessments"

    @property
    def derived(self) -> Path:
        """What can be made again from the rest."""
        return self.path / "derived"

    def recordings(self) -> tuple[Path, ...]:
        """The recordings, by name; what stands beside them about them is left out."""
        return tuple(path for path in self._recording_files() if path.suffix.lower() != _SIDECAR)

    def _recording_files(self) -> tuple[Path, ...]:
        folder = self.path / "recordings"
        if not folder.is_dir():
            return ()
        return tuple(sorted(p for p in folder.iterdir() if p.is_file() and not p.name.startswith(".")))

    def read(self, *, named: Callable[[str], Engine] | None = None) -> CaseRecord:
        """What a person typed, checked.

        Parameters
        ----------
        named : callable, optional
            Gives the described engine of a name.

        Raises
        ------
        InputError
            For anything that cannot be used.
        """
        text = read_text(self.case_toml)
        refuse_owner_in(text, read_owner(self.owner_toml))
        record = read_record(text, beside=self._engine_beside(), named=named)
        names = [path.name for path in self.recordings()]
        for name in record.leave_out:
            if Path(name).name not in names:
                near = nearest(name, names)
                todo = f"Nearest: {near[0]}" if near else None
                raise InputError(f"leave_out: no recording is called “{name}”", where="case.toml", todo=todo)
        return record

    def to_measure(self, record: CaseRecord) -> tuple[Path, ...]:
        """The recordings that the record does not leave out."""
        left_out = {Path(name).name for name in record.leave_out}
        return tuple(path for path in self.recordings() if path.name not in left_out)

    def _engine_beside(self) -> Engine | None:
        if not self.engine_toml.exists():
            return None
        from witnessmark.engine.file import read_engine

        return read_engine(self.engine_toml)

    def verify(self) -> tuple[str, ...]:
        """Everything in the folder that is not as the journal says, one sentence each; empty when all is.

        Raises
        ------
        StoreError
            If the journal cannot be read.
        """
        journal = read_journal(self.journal)
        found = list(journal.problems)
        if journal.torn is not None:
            found.append("journal.jsonl: the last line is cut off; it is kept, and the next event will say so")
        for name, digest in _files_said(journal).items():
            path = self.path / name
            if not path.exists():
                found.append(f"{name} is not there any more")
            elif digest_file(path) != digest:
                found.append(f"{name} is not as it was when it was entered")
        text = kept_text(journal)
        if text is not None and self.case_toml.exists() and read_text(self.case_toml) != text:
            found.append("case.toml was edited since it was last examined")
        return tuple(found)

    def keep(
        self, record: CaseRecord, make: Callable[[int], str], *, who: str | None = None, now: datetime | None = None
    ) -> Kept:
        """Keep an answer: enter what changed outside, write the answer, enter it too.

        Parameters
        ----------
        record : CaseRecord
            What the answer rests on.
        make : callable
            Gives the answer's text for its number.
        who : str, optional
            The name of whoever is logged in if left out.
        now : datetime, optional

        Raises
        ------
        StoreError
            If ``case.toml`` was edited meanwhile, or the disk refuses; nothing is half-written.
        """
        with held(self.path):
            self._sweep()
            if digest_bytes(read_text(self.case_toml).encode("utf-8")) != record.digest:
                raise StoreError("case.toml was edited while it was examined; nothing was kept: examine it again")
            journal = read_journal(self.journal)
            notes = _notes(journal)
            changes = [*_case_entries(journal, record), *self._other_entries(journal)]
            notes += [note for entry in changes if (note := _note_of(entry))]
            number = self._next_number(journal)
            path = self.assessments / f"{number:04d}.json"
            text = make(number)
            write_new(path, text.encode("utf-8"))
            said: dict[str, str] = {"file": f"assessments/{path.name}", "digest": digest_bytes(text.encode("utf-8"))}
            append_events(self.journal, [*changes, Entry("assessed", said)], who=who or who_am_i(), now=now)
        return Kept(number, path, text, tuple(notes))

    def write_derived(self, name: str, data: bytes) -> Path:
        """Write a file that can be made again.

        Parameters
        ----------
        name : str
        data : bytes
        """
        path = self.derived / name
        write_whole(path, data)
        return path

    def _sweep(self) -> None:
        """Take away what a crash left of an unfinished answer; the folder is held, so nobody is writing one."""
        for part in self.assessments.glob(".*.part"):
            part.unlink(missing_ok=True)

    def _next_number(self, journal: Journal) -> int:
        there = [int(path.stem) for path in self.assessments.glob("[0-9]*.json") if path.stem.isdigit()]
        said = [int(Path(name).stem) for name in _files_said(journal) if name.startswith("assessments/")]
        return max([0, *there, *said]) + 1

    def _other_entries(self, journal: Journal) -> list[Entry]:
        """Engine, owner, recordings and answers that are not as the journal last said."""
        found = [*self._owner_entries(journal), *self._engine_entries(journal)]
        said = _files_said(journal)
        there = {f"recordings/{path.name}": digest_file(path) for path in self._recording_files()}
        for name, digest in there.items():
            if name not in said:
                found.append(Entry("recording_added", {"file": name, "digest": digest}))
            elif said[name] != digest:
                found.append(Entry("recording_changed", {"file": name, "digest": digest, "was": said[name]}))
        missing = [name for name in said if name.startswith("recordings/") and name not in there]
        found += [Entry("recording_missing", {"file": name, "was": said[name]}) for name in missing]
        for path in sorted(self.assessments.glob("[0-9]*.json")):
            name = f"assessments/{path.name}"
            if name not in said:
                found.append(Entry("assessment_found", {"file": name, "digest": digest_file(path)}))
        return found

    def _owner_entries(self, journal: Journal) -> list[Entry]:
        last = journal.last("owner_named", "owner_erased")
        known = str(last.about.get("key", "")) if last is not None and last.what == "owner_named" else ""
        owner = read_owner(self.owner_toml)
        if owner is None:
            return [Entry("owner_erased", {"key": known})] if known else []
        key = ensure_key(self.owner_toml, owner)
        return [Entry("owner_named", {"key": key})] if key != known else []

    def _engine_entries(self, journal: Journal) -> list[Entry]:
        last = journal.last("engine_edited")
        was = last.about.get("digest") if last is not None else None
        now = digest_file(self.engine_toml) if self.engine_toml.exists() else None
        if now == was:
            return []
        return [Entry("engine_edited", {"file": "engine.toml", "digest": now, "was": was})]


def open_case(path: Path | str) -> CaseFolder:
    """The case at a path: its folder, or the ``case.toml`` in it.

    Parameters
    ----------
    path : path

    Raises
    ------
    InputError
        If there is none; says what is there instead.
    """
    path = Path(path)
    if path.name == "case.toml" and path.is_file():
        path = path.parent
    if path.is_dir():
        if (path / "case.toml").is_file():
            return CaseFolder(path)
        inside = sorted(p.parent.name for p in path.glob("*/case.toml"))
        todo = f"There are cases in it: {', '.join(inside[:6])}" if inside else "Put a case.toml into it"
        raise InputError(f"{path} holds no case.toml", given=str(path), todo=todo)
    if path.is_file():
        raise InputError(f"{path} is a file", given=str(path), expected="the folder of a case", todo=_for_a_file(path))
    near = nearest(path.name, [p.name for p in path.parent.iterdir() if p.is_dir()] if path.parent.is_dir() else [])
    hint = f"Nearest: {path.parent / near[0]}" if near else None
    raise InputError(f"there is no case at {path}", given=str(path), todo=hint)


def _for_a_file(path: Path) -> str:
    if path.suffix.lower() == ".zip":
        return "Unpack it first"
    return f"For a recording: witnessmark measure {path}"


def who_am_i() -> str:
    """Who is at the bench: ``WITNESSMARK_WHO``, else the name of whoever is logged in."""
    try:
        return os.environ.get("WITNESSMARK_WHO") or getpass.getuser()
    except (OSError, KeyError, ImportError):
        return "not named"


def _case_entries(journal: Journal, record: CaseRecord) -> list[Entry]:
    try:
        before = kept_text(journal)
    except StoreError:  # somebody changed the journal; the text is entered whole once more
        before = None
    said: dict[str, str] = {"file": "case.toml", "digest": record.digest}
    if before is None:
        return [Entry("case_opened", {**said, "text": record.text.splitlines(keepends=True)})]
    if before == record.text:
        return []
    return [Entry("case_edited", {**said, "edits": edits_between(before, record.text)})]


def _files_said(journal: Journal) -> Mapping[str, str]:
    """Every recording and answer the journal speaks of, with its last digest; missing ones are gone."""
    found: dict[str, str] = {}
    for event in journal.events:
        name = str(event.about.get("file", ""))
        if event.what in ("recording_added", "recording_changed", "assessed", "assessment_found"):
            found[name] = str(event.about.get("digest"))
        elif event.what == "recording_missing":
            found.pop(name, None)
    return found


def _notes(journal: Journal) -> list[str]:
    notes = list(journal.problems)
    if journal.torn is not None:
        notes.append(f"The last line of the journal was cut off; it is kept: {journal.torn[:60]}")
    return notes


def _note_of(entry: Entry) -> str | None:
    name = entry.about.get("file")
    notes: dict[str, str] = {
        "recording_changed": f"{name} was changed since it came in.",
        "recording_missing": f"{name} is not in the folder any more.",
        "assessment_found": f"{name} was there without an entry in the journal; it is entered now.",
        "owner_erased": "The owner is erased.",
    }
    return notes.get(entry.what)
