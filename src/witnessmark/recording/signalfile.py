"""The shop's own file of signals: which signal of a bus is which parameter of a log.

::

    description = "body.dbc"        # beside this file; left out where every signal is spelt out here

    [[signal]]                      # one that a description holds
    message = "ENGINE_1"
    signal = "SPEED"
    parameter = "engine_speed"
    unit = "rpm"                    # where the description gives none, or a wrong one

    [[signal]]                      # one that nobody described but the shop
    identifier = 0x123
    bytes = [2, 3]                  # or start_bit and bits, as descriptions number them
    order = "big"
    scale = 0.25
    unit = "rpm"
    parameter = "engine_speed"

Nothing of the kind is shipped, and nothing is guessed.
"""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Annotated, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from witnessmark.errors import FormatError, InputError, one_of
from witnessmark.source import digest_bytes

__all__ = ["SignalEntry", "SignalFile", "read_signal_file"]

Finite = Annotated[float, Field(allow_inf_nan=False)]
_LARGEST = 1 << 20


class SignalEntry(BaseModel):
    """One signal as the file gives it."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    message: str | None = Field(default=None, description="message of the description")
    signal: str | None = Field(default=None, description="signal of that message")
    identifier: Annotated[int, Field(ge=0, lt=1 << 29)] | None = Field(default=None, description="of the frame")
    extended: bool | None = Field(default=None, description="whether the identifier has 29 bits")
    bus: str | None = Field(default=None, description="the only bus it is on")
    bytes: tuple[int, int] | None = Field(default=None, description="first and last byte, from 0")
    start_bit: Annotated[int, Field(ge=0, lt=512)] | None = Field(default=None, description="as descriptions count")
    bits: Annotated[int, Field(ge=1, le=64)] | None = Field(default=None, description="how many")
    order: Literal["big", "little"] | None = Field(default=None, description="which byte comes first")
    signed: bool = False
    scale: Finite | None = Field(default=None, description="value = number × scale + offset")
    offset: Finite | None = None
    unit: str | None = Field(default=None, description="unit of the value")
    name: str | None = Field(default=None, description="heading of the trace")
    parameter: str | None = Field(default=None, description="of the closed list, with its keys: short_trim bank=1")

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        if (self.identifier is None) == (self.message is None):
            raise ValueError("a signal needs either message and signal, or identifier")
        if self.message is not None:
            if self.signal is None or self.parameter is None:
                raise ValueError("a signal of a description needs message, signal and parameter")
            given = (self.bytes, self.start_bit, self.bits, self.order, self.scale, self.offset)
            if any(value is not None for value in given):
                raise ValueError("where a signal stands and how it is scaled is in its description")
            return self
        if (self.bytes is None) == (self.start_bit is None) or (self.start_bit is None) != (self.bits is None):
            raise ValueError("a signal needs either bytes, or start_bit and bits")
        if self.bytes is not None and not 0 <= self.bytes[0] <= self.bytes[1] < 64:
            raise ValueError("bytes are counted from 0, the first no later than the last")
        one_byte = self.bytes is not None and self.bytes[0] == self.bytes[1]
        if self.order is None and not one_byte:
            raise ValueError("order must be big or little")
        if self.scale == 0:
            raise ValueError("scale must not be 0")
        return self


class SignalFile(BaseModel):
    """The file as it is given."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    description: str | tuple[str, ...] = Field(default=(), description="DBC file, or several, beside this one")
    signal: tuple[SignalEntry, ...] = ()

    @property
    def descriptions(self) -> tuple[str, ...]:
        """Names of the descriptions, however many there are."""
        return (self.description,) if isinstance(self.description, str) else self.description


def read_signal_file(path: Path) -> tuple[SignalFile, str]:
    """The shop's file of signals, checked for its form, and its digest.

    Parameters
    ----------
    path : Path

    Returns
    -------
    SignalFile
    str

    Raises
    ------
    InputError
        No such file.
    FormatError
        It is no TOML, or an entry cannot be.
    """
    try:
        data = path.read_bytes()
    except OSError as error:
        raise InputError(f"{path} cannot be read: {error.strerror}", given=str(path)) from None
    if len(data) > _LARGEST:
        raise FormatError("too large for a file of signals", where=path.name)
    try:
        return SignalFile.model_validate(tomllib.loads(data.decode("utf-8-sig"))), digest_bytes(data)
    except ValidationError as error:
        raise _in_words(error, path.name) from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, RecursionError) as error:
        raise FormatError(f"not a file of signals: {error}", where=path.name) from None


def _in_words(error: ValidationError, name: str) -> InputError:
    """The first thing that is wrong, in one line."""
    first = error.errors(include_url=False)[0]
    spot = [part + 1 if isinstance(part, int) else part for part in first["loc"]]
    where = f"{name}, {' '.join(map(str, spot))}" if spot else name
    if first["type"] == "extra_forbidden":
        model = SignalEntry if len(spot) > 1 else SignalFile
        return one_of("key of a file of signals", str(spot[-1]), model.model_fields, where=name)
    return FormatError(str(first["msg"]).removeprefix("Value error, "), given=str(first.get("input"))[:40], where=where)
