"""What frames mean, as somebody who knows the vehicle wrote it down: messages and their signals.

None is shipped and none is guessed. A description comes as a DBC file (read by ``cantools``) or as lines of the shop's
own file (``witnessmark.decode.shopsignals``).
"""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from witnessmark.decode.bits import Field
from witnessmark.errors import FormatError, InputError
from witnessmark.recording.text import decode_words
from witnessmark.source import digest_bytes

if TYPE_CHECKING:
    from cantools.database.can import Message as LoadedMessage
    from cantools.database.can import Signal as LoadedSignal

__all__ = ["FrameDescription", "FrameMessage", "FrameSignal", "read_description"]

_LARGEST = 1 << 25  # bytes; the largest descriptions have a few millions
_MESSAGE = re.compile(r"^BO_\s+\d+\s+", re.MULTILINE)
_SIGNAL = re.compile(r"^\s*SG_\s+\w+(?:\s+(?:M|m\d+M?))?\s*:", re.MULTILINE)
_NO_MESSAGE = "VECTOR__INDEPENDENT_SIG_MSG"  # signals that are in no frame
_REMARKS = 3  # of its own kind, named one by one


@dataclass(frozen=True, slots=True)
class FrameSignal:
    """One quantity in a frame.

    Parameters
    ----------
    name : str
    field : Field
    scale, offset : float
        ``value = number × scale + offset``.
    unit : str, optional
        As the description spells it.
    words : mapping of int to str
        Numbers that stand for a state.
    selector : str, optional
        Signal of the same message that says whether this one is there.
    selected_by : tuple of int
        Numbers of the selector with which it is.
    """

    name: str
    field: Field
    scale: float = 1.0
    offset: float = 0.0
    unit: str | None = None
    words: Mapping[int, str] = dataclasses.field(default_factory=dict)
    selector: str | None = None
    selected_by: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class FrameMessage:
    """What the frames with one identifier hold."""

    name: str
    identifier: int
    extended: bool
    signals: tuple[FrameSignal, ...]

    def signal(self, name: str) -> FrameSignal | None:
        """The signal of a name; None where there is none."""
        return next((signal for signal in self.signals if signal.name == name), None)


@dataclass(frozen=True, slots=True)
class FrameDescription:
    """The messages of one file.

    Parameters
    ----------
    name : str
        Of the file.
    digest : str
    messages : tuple of FrameMessage
    bus : str, optional
        The only bus it speaks of; every bus where left out.
    notes : tuple of str
        What in it cannot be used.
    spelt_out : bool
        A line of the shop's own file: it stands beside whatever else describes the same frames.
    """

    name: str
    digest: str
    messages: tuple[FrameMessage, ...]
    bus: str | None = None
    notes: tuple[str, ...] = ()
    spelt_out: bool = False


def read_description(path: Path | str, *, bus: str | None = None) -> FrameDescription:
    """Messages and signals from a DBC file.

    Parameters
    ----------
    path : path
    bus : str, optional
        The only bus it speaks of.

    Returns
    -------
    FrameDescription

    Raises
    ------
    InputError
        No such file, or the library that reads it is not installed.
    FormatError
        The file is no such description, or damaged: says where.
    """
    path = Path(path)
    try:
        if path.stat().st_size > _LARGEST:
            raise FormatError("too large for a description of frames", where=path.name)
        data = path.read_bytes()
    except OSError as error:
        raise InputError(f"{path} cannot be read: {error.strerror}", given=str(path)) from None
    notes: list[str] = []
    text = decode_words(data.removeprefix(b"\xef\xbb\xbf"))
    loaded = _loaded(text, path.name)
    _whole(text, loaded, path.name)
    messages = [_message(one, notes) for one in loaded]
    if len(notes) > _REMARKS:
        notes[_REMARKS:] = [f"{len(notes) - _REMARKS} more signals of the description cannot be used"]
    if not messages:
        raise FormatError("the description names no message", where=path.name, expected="lines that begin with BO_")
    return FrameDescription(path.name, digest_bytes(data), tuple(messages), bus, tuple(notes))


def _loaded(text: str, name: str) -> list[LoadedMessage]:
    try:
        import cantools.database
    except ImportError:
        raise InputError(
            "descriptions of frames (DBC) need the library cantools",
            where=name,
            todo="Install it: pip install witnessmark[dbc]",
        ) from None
    try:
        # Not strict: signals that overlap are common, and each is read by itself.
        loaded = cantools.database.load_string(text, "dbc", strict=False)
    except RecursionError:
        raise FormatError("nested too deeply for a description of frames", where=name) from None
    except Exception as error:
        # The parser and the checks behind it raise whatever a damaged file makes them stumble on.
        said = " ".join(str(error).split())[:160] or type(error).__name__
        raise FormatError(
            f"the description of frames cannot be read: {said}", where=name, todo="Export the description again as DBC"
        ) from None
    return list(getattr(loaded, "messages", ()))


def _whole(text: str, loaded: list[LoadedMessage], name: str) -> None:
    """Refuse a description that is cut: its parser passes over what is not whole at the end of the file."""
    written = 0
    for block in _MESSAGE.split(text)[1:]:
        if not block.startswith(_NO_MESSAGE):
            written += len(_SIGNAL.findall(block))
    read = sum(len(one.signals) for one in loaded)
    if read < written:
        raise FormatError(
            f"the description is damaged: {read} of its {written} signals (SG_) are whole",
            where=name,
            todo="Export the description again as DBC",
        )


def _message(loaded: LoadedMessage, notes: list[str]) -> FrameMessage:
    signals = []
    for one in loaded.signals:
        try:
            signals.append(_signal(one))
        except (InputError, TypeError, ValueError, OverflowError) as error:
            notes.append(f"{loaded.name}.{one.name} of the description cannot be used: {error}")
    return FrameMessage(str(loaded.name), int(loaded.frame_id), bool(loaded.is_extended_frame), tuple(signals))


def _signal(loaded: LoadedSignal) -> FrameSignal:
    scale, offset = float(loaded.scale), float(loaded.offset)
    if scale == 0.0 or not abs(scale) < float("inf") or not abs(offset) < float("inf"):
        raise InputError("its scale must be a number other than 0", given=str(loaded.scale))
    where = Field(
        int(loaded.start),
        int(loaded.length),
        "little" if loaded.byte_order == "little_endian" else "big",
        bool(loaded.is_signed) and not loaded.is_float,
        bool(loaded.is_float),
    )
    return FrameSignal(
        name=str(loaded.name),
        field=where,
        scale=scale,
        offset=offset,
        unit=str(loaded.unit) if loaded.unit else None,
        words=_words(loaded.choices),
        selector=loaded.multiplexer_signal,
        selected_by=tuple(int(number) for number in loaded.multiplexer_ids or ()),
    )


def _words(choices: Any) -> dict[int, str]:
    return {int(number): str(word) for number, word in (choices or {}).items()}
