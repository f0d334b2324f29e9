"""The journal: grows at its end only, tells where it was changed, and loses nothing in a crash."""

from __future__ import annotations

import itertools
import json
import os
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.case import files
from witnessmark.case.files import held, write_new, write_whole
from witnessmark.case.journal import (
    EVENTS,
    Entry,
    Event,
    append_events,
    edits_between,
    kept_text,
    read_journal,
)
from witnessmark.errors import StoreError
from witnessmark.source import digest_bytes

NOON = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "journal.jsonl"


def added(path: Path, *entries: Entry) -> None:
    append_events(path, entries, who="bench", now=NOON)


def three(path: Path) -> None:
    added(path, Entry("recording_added", {"file": "recordings/a.csv", "digest": "sha256:1"}))
    added(path, Entry("recording_added", {"file": "recordings/b.csv", "digest": "sha256:2"}))
    added(path, Entry("recording_missing", {"file": "recordings/b.csv"}))


def test_no_file_is_an_empty_journal(path: Path) -> None:
    journal = read_journal(path)
    assert (journal.events, journal.torn, journal.problems, journal.next_number) == ((), None, (), 1)


def test_each_line_holds_the_digest_of_the_line_before(path: Path) -> None:
    three(path)
    lines = path.read_bytes().splitlines()
    said = [json.loads(line) for line in lines]
    assert [row["number"] for row in said] == [1, 2, 3]
    assert [row["before"] for row in said] == [None, digest_bytes(lines[0]), digest_bytes(lines[1])]
    assert said[0]["time"] == "2026-03-02T12:00:00+00:00"
    assert said[0]["format"] == "witnessmark/journal/1"
    assert read_journal(path).problems == ()
    assert read_journal(path).head == digest_bytes(lines[2])


def test_an_event_that_nobody_defined_is_a_mistake_of_the_program(path: Path) -> None:
    with pytest.raises(ValueError, match="no event"):
        added(path, Entry("lunch"))
    assert not path.exists()


def test_nothing_to_add_writes_nothing(path: Path) -> None:
    append_events(path, [], who="bench")
    assert not path.exists()


# ---------------------------------------------------------------- tampering


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (b"recordings/a.csv", b"recordings/z.csv", "line 2: the line before it is not as it was written"),
        (b"sha256:2", b"sha256:3", "line 3: the line before it is not as it was written"),
        (b'"who": "bench"', b'"who": "nobody"', "line 2: the line before it is not as it was written"),
        (b'"number": 3', b'"number": 7', "line 3: event 7 stands where 3 belongs"),
    ],
)
def test_a_changed_line_is_named(path: Path, old: bytes, new: bytes, said: str) -> None:
    three(path)
    path.write_bytes(path.read_bytes().replace(old, new, 1))
    assert any(said in problem for problem in read_journal(path).problems)


@pytest.mark.parametrize("taken", [0, 1])
def test_a_line_taken_out_is_noticed(path: Path, taken: int) -> None:
    three(path)
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join(lines[:taken] + lines[taken + 1 :]))
    assert len(read_journal(path).problems) >= 1


def test_two_lines_exchanged_are_noticed(path: Path) -> None:
    three(path)
    a, b, c = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b + a + c)
    assert len(read_journal(path).problems) >= 2


def test_a_line_in_the_middle_that_is_no_event_any_more_is_named(path: Path) -> None:
    three(path)
    a, b, c = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(a + b[:20] + b"\n" + c)
    problems = read_journal(path).problems
    assert any("line 3: the line before it is not as it was written" in problem for problem in problems)


@given(st.integers(0, 10_000), st.integers(1, 255))
def test_no_byte_of_the_lines_before_the_last_changes_unseen(
    tmp_path_factory: pytest.TempPathFactory, where: int, change: int
) -> None:
    path = tmp_path_factory.mktemp("j") / "journal.jsonl"
    three(path)
    data = bytearray(path.read_bytes())
    protected = data.rstrip(b"\n").rindex(b"\n")  # the last line is protected by the next one only
    data[where % protected] ^= change
    path.write_bytes(bytes(data))
    journal = read_journal(path)
    assert journal.problems or journal.torn


def test_what_was_changed_is_entered_once(path: Path) -> None:
    three(path)
    path.write_bytes(path.read_bytes().replace(b"recordings/a.csv", b"recordings/z.csv", 1))
    added(path, Entry("recording_added", {"file": "recordings/c.csv"}))
    added(path, Entry("recording_added", {"file": "recordings/d.csv"}))
    kinds = [event.what for event in read_journal(path).events]
    assert kinds.count("line_changed") == 1


# ---------------------------------------------------------------- crashes


@pytest.mark.parametrize("cut", [1, 2, 20, 60])
def test_a_torn_last_line_is_reported_and_kept(path: Path, cut: int) -> None:
    three(path)
    whole = path.read_bytes()
    path.write_bytes(whole[:-cut])
    torn = whole[:-cut].splitlines()[-1]
    journal = read_journal(path)
    if cut == 1:  # only the line's end is missing: the event is whole
        assert (len(journal.events), journal.torn) == (3, None)
    else:
        assert (len(journal.events), journal.torn) == (2, torn.decode())
    assert journal.problems == ()
    added(path, Entry("recording_added", {"file": "recordings/c.csv"}))
    after = read_journal(path)
    assert after.problems == ()
    assert after.torn is None
    assert torn in path.read_bytes()
    assert ("torn_line_kept" in [event.what for event in after.events]) == (cut != 1)
    assert [event.number for event in after.events] == list(range(1, len(after.events) + 1))


def test_a_torn_first_line(path: Path) -> None:
    path.write_bytes(b'{"number": 1, "ti')
    added(path, Entry("recording_added", {"file": "recordings/c.csv"}))
    journal = read_journal(path)
    assert [event.what for event in journal.events] == ["torn_line_kept", "recording_added"]
    assert journal.problems == ()


def test_a_full_disk_loses_nothing(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    three(path)
    before = path.read_bytes()

    def full(descriptor: int) -> None:
        raise OSError(28, os.strerror(28))

    monkeypatch.setattr(files.os, "fsync", full)
    with pytest.raises(StoreError, match=r"could not save .*: no space left on device; what was there before still is"):
        added(path, Entry("recording_added", {"file": "recordings/c.csv"}))
    assert path.read_bytes().startswith(before)


def test_a_file_is_written_whole_or_not_at_all(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "case.toml"
    write_whole(path, b"before")

    def full(descriptor: int) -> None:
        raise OSError(28, os.strerror(28))

    with monkeypatch.context() as patch:
        patch.setattr(files.os, "fsync", full)
        with pytest.raises(StoreError, match="could not save"):
            write_whole(path, b"after")
    assert path.read_bytes() == b"before"
    assert [p.name for p in tmp_path.iterdir()] == ["case.toml"]
    write_whole(path, b"after")
    assert path.read_bytes() == b"after"


def test_what_is_there_is_not_written_over(tmp_path: Path) -> None:
    path = tmp_path / "assessments" / "0001.json"
    write_new(path, b"first")
    with pytest.raises(StoreError, match=r"0001.json is there already"):
        write_new(path, b"second")
    assert path.read_bytes() == b"first"
    assert [p.name for p in path.parent.iterdir()] == ["0001.json"]


def test_a_disk_without_links_serves_too(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def none(*_: object) -> None:
        raise OSError(1, os.strerror(1))

    monkeypatch.setattr(files.os, "link", none)
    path = tmp_path / "0001.json"
    write_new(path, b"first")
    with pytest.raises(StoreError, match="is there already"):
        write_new(path, b"second")
    assert path.read_bytes() == b"first"


WRITER = """
import sys
from pathlib import Path
from witnessmark.case.files import held
from witnessmark.case.journal import Entry, append_events
folder = Path(sys.argv[1])
for i in range(25):
    with held(folder):
        append_events(folder / "journal.jsonl", [Entry("recording_added", {"file": f"{sys.argv[2]}{i}"})], who="x")
"""


def test_two_processes_write_one_journal(tmp_path: Path) -> None:
    both = [subprocess.Popen([sys.executable, "-c", WRITER, str(tmp_path), name]) for name in "ab"]
    assert [process.wait(60) for process in both] == [0, 0]
    journal = read_journal(tmp_path / "journal.jsonl")
    assert (len(journal.events), journal.problems, journal.torn) == (50, (), None)
    said = {event.about["file"] for event in journal.events}
    assert said == {f"{name}{i}" for name in "ab" for i in range(25)}


def test_who_waits_too_long_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(files, "_WAIT_S", 0.05)
    with held(tmp_path), pytest.raises(StoreError, match="another Witnessmark is writing"), held(tmp_path):
        pass
    with held(tmp_path):
        pass  # free again


# ---------------------------------------------------------------- case.toml in the journal

TEXTS = st.lists(st.sampled_from(["a = 1\n", "b = 2\n", "\n", "# é\n", "c = 3\r\n", "d"]), max_size=8).map("".join)


@given(st.lists(TEXTS, min_size=1, max_size=5))
def test_the_case_can_be_put_together_from_the_journal_alone(
    tmp_path_factory: pytest.TempPathFactory, texts: list[str]
) -> None:
    path = tmp_path_factory.mktemp("j") / "journal.jsonl"
    digest = digest_bytes(texts[0].encode())
    added(path, Entry("case_opened", {"digest": digest, "text": texts[0].splitlines(keepends=True)}))
    for old, new in itertools.pairwise(texts):
        about = {"digest": digest_bytes(new.encode()), "edits": edits_between(old, new)}
        added(path, Entry("case_edited", about))
    assert kept_text(read_journal(path)) == texts[-1]


def test_edits_that_do_not_fit_are_noticed(path: Path) -> None:
    text = "a = 1\n"
    added(path, Entry("case_opened", {"digest": digest_bytes(text.encode()), "text": [text]}))
    added(path, Entry("case_edited", {"digest": "sha256:0", "edits": edits_between(text, "a = 2\n")}))
    with pytest.raises(StoreError, match="event 2 does not give the case"):
        kept_text(read_journal(path))
    added(path, Entry("case_edited", {"digest": "sha256:0", "edits": [{"line": 1, "was": ["z\n"], "now": []}]}))
    with pytest.raises(StoreError, match="event"):
        kept_text(read_journal(path))


def test_every_event_is_explained_and_takes_one_line() -> None:
    assert all(EVENTS.values())
    line = Event(1, "t", "w", "assessed", {"words": "two\nlines"}, None).line()
    assert "\n" not in line
