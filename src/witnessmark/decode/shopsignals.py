"""What the shop's file of signals (``witnessmark.recording.signalfile``) says, ready for decoding."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from witnessmark.decode.bits import Field as BitField
from witnessmark.decode.framedescription import FrameDescription, FrameMessage, FrameSignal, read_description
from witnessmark.errors import InputError
from witnessmark.recording.parameters import Signal, signal_of
from witnessmark.recording.signalfile import SignalEntry, read_signal_file

__all__ = ["ShopSignals", "SignalRole", "read_shop_signals"]


@dataclass(frozen=True, slots=True)
class SignalRole:
    """Which parameter a signal is.

    Parameters
    ----------
    message, signal : str
        As the description names them.
    role : Signal
    unit : str, optional
        Of the values, where the description's own is not to be believed.
    bus : str, optional
        The only bus it is on.
    """

    message: str
    signal: str
    role: Signal
    unit: str | None = None
    bus: str | None = None


@dataclass(frozen=True, slots=True)
class ShopSignals:
    """A shop's file: descriptions it names or spells out, and what their signals are."""

    descriptions: tuple[FrameDescription, ...]
    roles: tuple[SignalRole, ...]


def read_shop_signals(path: Path | str) -> ShopSignals:
    """The shop's file of signals.

    Parameters
    ----------
    path : path

    Returns
    -------
    ShopSignals

    Raises
    ------
    InputError
        No such file; a parameter that is not on the closed list.
    FormatError
        It is no TOML, or an entry cannot be; or a description that it names is damaged.
    """
    path = Path(path)
    content, digest = read_signal_file(path)
    described = [read_description(path.parent / name) for name in content.descriptions]
    roles, spelt = [], []
    for number, entry in enumerate(content.signal, 1):
        where = f"{path.name}, signal {number}"
        message, name = entry.message, entry.signal
        if entry.identifier is not None:
            spelt.append(_spelt_out(entry, digest, path.name, where))
            message, name = spelt[-1].messages[0].name, spelt[-1].messages[0].signals[0].name
        if entry.parameter is not None:
            roles.append(SignalRole(str(message), str(name), _role(entry.parameter, where), entry.unit, entry.bus))
    return ShopSignals((*described, *spelt), tuple(roles))


def _role(text: str, where: str) -> Signal:
    try:
        return signal_of(text)
    except InputError as error:
        raise error.at(where) from None


def _spelt_out(entry: SignalEntry, digest: str, file: str, where: str) -> FrameDescription:
    order = entry.order or "little"
    identifier = entry.identifier or 0
    try:
        field = (
            BitField.of_bytes(*entry.bytes, order, signed=entry.signed)
            if entry.bytes is not None
            else BitField(entry.start_bit or 0, entry.bits or 0, order, entry.signed)
        )
    except InputError as error:
        raise error.at(where) from None
    extended = entry.extended if entry.extended is not None else identifier > 0x7FF
    name = entry.name or entry.parameter or f"bits {field.start} to {field.start + field.length - 1}"
    signal = FrameSignal(
        name=name,
        field=field,
        scale=1.0 if entry.scale is None else entry.scale,
        offset=entry.offset or 0.0,
        unit=entry.unit,
    )
    message = FrameMessage(f"0x{identifier:X}", identifier, extended, (signal,))
    return FrameDescription(file, digest, (message,), entry.bus, spelt_out=True)
