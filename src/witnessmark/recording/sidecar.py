"""What a person says about a recording: ``NAME.csv.toml`` beside ``NAME.csv``.

::

    [time]
    unit = "us"            # when the file does not say; or step_s = 1e-5 for a file without a time column

    [condition]
    state = "idle"
    speed_rpm = 780
    complaint = "present"

    [[channel]]
    index = 0              # or name = "crank", as the heading says
    role = "crank"
    edge = "falling"       # the edge that sits on the wheel; "find" leaves it to the numbers
    polarity = "inverted"
    wheel = "crank"        # key of the wheel in the engine description

Beside a bus log::

    [frames]
    description = "engine.dbc"     # or bus = { can0 = "engine.dbc", can1 = "body.dbc" }
    signals = "signals.toml"       # which signal is which parameter
"""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError, model_validator

from witnessmark.errors import FormatError, InputError, nearest, one_of
from witnessmark.recording.parameters import signal_of
from witnessmark.recording.reader import TimeHints
from witnessmark.recording.types import Recording, Trace
from witnessmark.source import Step
from witnessmark.vocabulary import Condition

__all__ = [
    "ROLES",
    "ChannelNote",
    "ConditionNote",
    "FramesNote",
    "Sidecar",
    "TimeNote",
    "read_sidecar",
    "sidecar_schema",
]

Role = Literal[
    "crank",
    "cam",
    "cylinder_pressure",
    "manifold_pressure",
    "exhaust_pressure",
    "ignition",
    "injector",
    "starter_current",
    "supply_voltage",
    "encoder",
    "other",
    "unused",
]
ROLES: tuple[str, ...] = Role.__args__  # type: ignore[attr-defined]
"""What a channel can be."""


def _logged_signal(text: str) -> str:
    """The text of a signal of a log, checked: as a role it says which parameter, and which one of its kind."""
    try:
        return str(signal_of(text))
    except InputError as error:
        raise ValueError(error.message) from None


Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]
Finite = Annotated[float, Field(allow_inf_nan=False)]


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class TimeNote(_Part):
    """When the rows were taken, where the file does not say."""

    column: Annotated[int, Field(ge=0)] | None = Field(
        default=None, description="column of the file that holds the time, from 0"
    )
    unit: Literal["s", "ms", "us", "ns", "min", "h"] | None = Field(default=None, description="unit of the time column")
    step_s: Positive | None = Field(
        default=None, description="seconds from row to row, for a file without a time column"
    )
    start_s: Finite = Field(default=0.0, description="time of the first row of such a file, in seconds")

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        if self.step_s is not None and (self.column is not None or self.unit is not None):
            raise ValueError("step_s is for a file without a time column; column and unit are for one that has it")
        return self


class ConditionNote(_Part):
    """Circumstances of the recording; what is left out is not known."""

    state: (
        Literal[
            "off",
            "key_on",
            "cranking",
            "warm_up",
            "idle",
            "raised",
            "cruise",
            "acceleration",
            "full_load",
            "snap",
            "overrun",
        ]
        | None
    ) = Field(default=None, description="operating state")
    speed_rpm: Annotated[float, Field(ge=0, allow_inf_nan=False)] | None = Field(
        default=None, description="engine speed"
    )
    coolant_c: Finite | None = Field(default=None, description="coolant temperature, °C")
    phaser: Literal["parked", "moved"] | None = Field(default=None, description="whether the phasers were moved")
    complaint: Literal["present", "absent"] | None = Field(default=None, description="whether the complaint showed")
    during: str | None = Field(default=None, description="intervention under way")


class FramesNote(_Part):
    """What describes the frames of a bus log; paths count from the folder of the sidecar."""

    description: str | tuple[str, ...] = Field(default=(), description="DBC file, or several, for every bus")
    bus: dict[str, str] = Field(default_factory=dict, description="DBC file by the name of its bus")
    signals: str | None = Field(default=None, description="the shop's file that says which signal is which parameter")

    def named(self) -> tuple[tuple[str, str | None], ...]:
        """Descriptions, each with the only bus it speaks of; those of one bus first."""
        everywhere = (self.description,) if isinstance(self.description, str) else self.description
        return (*((name, bus) for bus, name in self.bus.items()), *((name, None) for name in everywhere))


class ChannelNote(_Part):
    """One channel, named by its heading or by its index."""

    index: Annotated[int, Field(ge=0)] | None = Field(
        default=None, description="which value column, from 0; the time is not counted"
    )
    name: str | None = Field(default=None, description="heading of the column")
    role: Role | Annotated[str, AfterValidator(_logged_signal)] | None = Field(
        default=None,
        description="what the channel is on the engine; of a log the parameter and which one: “short_trim bank=1”",
    )
    unit: str | None = Field(default=None, description="unit of the values after scale and offset")
    edge: Literal["rising", "falling", "find"] = Field(default="find", description="which edge sits on the wheel")
    polarity: Literal["normal", "inverted"] = Field(
        default="normal", description="inverted: high and low are exchanged"
    )
    scale: Finite | None = Field(default=None, description="value = number in the file × scale + offset")
    offset: Finite = Field(default=0.0, description="see scale")
    wheel: str | None = Field(default=None, description="key of the wheel in the engine description")

    @model_validator(mode="after")
    def _one_name(self) -> Self:
        if (self.index is None) == (self.name is None):
            raise ValueError("a channel needs either index or name")
        if self.scale == 0:
            raise ValueError("scale must not be 0")
        return self


class Sidecar(_Part):
    """A sidecar file."""

    format: str | None = Field(
        default=None, description="name of the format, when it shall not be found from the content"
    )
    time: TimeNote = TimeNote()
    condition: ConditionNote = ConditionNote()
    frames: FramesNote = FramesNote()
    channel: tuple[ChannelNote, ...] = ()

    def hints(self) -> TimeHints:
        """What a reader needs of it."""
        return TimeHints(self.time.column, self.time.unit, self.time.step_s, self.time.start_s)

    def applied_to(self, recording: Recording) -> Recording:
        """The recording with roles, calibration and condition.

        Raises
        ------
        InputError
            A channel the recording does not have, or one named twice.
        """
        traces = {trace.channel: trace for trace in recording.traces}
        steps = list(recording.history)
        done: set[int] = set()
        # Frames have no channels before they are decoded.
        waiting = recording.frames is not None and not recording.traces
        for note in () if waiting else self.channel:
            trace = _find(recording, note)
            if trace.channel in done:
                raise InputError(f"the sidecar names channel {trace.channel} twice", where=recording.name)
            done.add(trace.channel)
            traces[trace.channel], what = _noted(trace, note)
            if what:
                steps.append(Step("calibrate", f"channel {trace.channel}: {what}"))
        return replace(
            recording,
            traces=tuple(traces.values()),
            condition=Condition(**self.condition.model_dump()),
            history=tuple(steps),
        )


def _find(recording: Recording, note: ChannelNote) -> Trace:
    if note.name is not None:
        return recording[note.name]
    channels = [trace.channel for trace in recording.traces]
    if note.index not in channels:
        listed = ", ".join(str(channel) for channel in channels)
        raise InputError(
            f"the sidecar names channel {note.index}, which the recording does not have",
            given=str(note.index),
            expected=f"one of {listed}",
            where=recording.name,
        )
    return next(trace for trace in recording.traces if trace.channel == note.index)


def _noted(trace: Trace, note: ChannelNote) -> tuple[Trace, str]:
    """The trace with what the note says, and the calibration in words."""
    scale, offset = trace.scale, trace.offset
    said = []
    if note.scale is not None or note.offset:
        by = 1.0 if note.scale is None else note.scale
        scale, offset = scale * by, offset * by + note.offset
        said.append(f"× {by:g} + {note.offset:g}")
    if note.polarity == "inverted":
        # States exchange places; samples are mirrored about zero.
        low_plus_high = 2.0 * offset + scale if trace.kind == "levels" else 0.0
        scale, offset = -scale, low_plus_high - offset
        said.append("high and low exchanged")
    noted = replace(
        trace,
        scale=scale,
        offset=offset,
        role=note.role or trace.role,
        unit=note.unit or trace.unit,
        edge=None if note.edge == "find" else note.edge,
        wheel=note.wheel or trace.wheel,
    )
    return noted, ", ".join(said)


def read_sidecar(path: Path) -> Sidecar:
    """A sidecar from its file.

    Parameters
    ----------
    path : Path

    Raises
    ------
    InputError
        The file is not there.
    FormatError
        It is no TOML, or a key or value in it is none of those that may stand there; names the nearest valid word.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise InputError(f"{path} cannot be read: {error.strerror}", given=str(path)) from None
    except UnicodeDecodeError:
        raise FormatError("a sidecar must be UTF-8 text", where=path.name) from None
    try:
        content = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise FormatError(f"not valid TOML: {error}", where=path.name) from None
    try:
        return Sidecar.model_validate(content)
    except ValidationError as error:
        raise _in_words(error, path.name) from None


def sidecar_schema() -> dict[str, Any]:
    """The JSON Schema of a sidecar.

    Returns
    -------
    dict
    """
    schema = Sidecar.model_json_schema()
    schema["$id"] = "witnessmark/recording-sidecar/1"
    return schema


_PARTS: dict[str, type[BaseModel]] = {
    "time": TimeNote,
    "condition": ConditionNote,
    "frames": FramesNote,
    "channel": ChannelNote,
}


def _in_words(error: ValidationError, name: str) -> InputError:
    """The first thing that is wrong, in one line."""
    first = error.errors(include_url=False)[0]
    spot = first["loc"]
    key = ".".join(str(part) for part in spot)
    where = f"{name}, {key}" if key else name
    given = str(first.get("input"))[:40]
    if first["type"] == "extra_forbidden":
        model = _PARTS.get(str(spot[0]), Sidecar) if len(spot) > 1 else Sidecar
        return one_of("key of a sidecar", str(spot[-1]), model.model_fields, where=name)
    if first["type"] == "literal_error":
        words = str(first["ctx"]["expected"]).replace("'", "").replace(" or ", ", ").split(", ")
        near = nearest(given, words)
        todo = f"Nearest: {near[0]}" if near else None
        return FormatError(
            f"“{given}” is none of its words", given=given, where=where, expected=", ".join(words), todo=todo
        )
    message = str(first["msg"]).removeprefix("Value error, ")
    return FormatError(message, given=given, where=where)
