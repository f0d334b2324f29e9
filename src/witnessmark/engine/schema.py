"""The shape of an engine description, as pydantic models: which keys there are and what they hold.

Imported only by the functions that read a description; starting up without one needs no pydantic.
What the numbers say together is the affair of ``check``.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from witnessmark.engine import written
from witnessmark.engine.number import ABSENT, Number
from witnessmark.errors import EngineDefinitionError, InputError
from witnessmark.source import Source

__all__ = [
    "SCHEMA_NAME",
    "AirFile",
    "CylinderFile",
    "Described",
    "EngineFile",
    "PhaserFile",
    "ReportingFile",
    "SprocketFile",
    "StageFile",
    "ValveFile",
    "ValvesFile",
    "WheelEdgeFile",
    "WheelFile",
    "engine_schema",
]

SCHEMA_NAME = "witnessmark/engine/1"


@dataclass(frozen=True, eq=False)
class Described:
    """Reads a value with a function of ours and carries our errors through pydantic with their parts.

    Parameters
    ----------
    read : callable
        From what the file holds to the value.
    json : dict
        JSON Schema of what the file may hold.
    """

    read: Callable[[object], object]
    json: Any

    def __get_pydantic_core_schema__(self, source: object, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_plain_validator_function(self._read)

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> Any:
        return dict(self.json)

    def _read(self, given: object) -> object:
        try:
            return self.read(given)
        except InputError as error:
            parts = {"message": error.message, "expected": error.expected, "todo": error.todo}
            raise PydanticCustomError("described", "{message}", parts) from error


def _number(kind: written.Kind) -> Described:
    return Described(partial(written.parse_number, kind), written.number_schema(kind))


def _presence(given: object) -> float:
    if isinstance(given, bool):
        return float(given)
    if isinstance(given, int | float) and 0 <= given <= 1:
        return float(given)
    raise EngineDefinitionError(f"{written.shorten(given)} cannot be", expected="true, false, or a chance from 0 to 1")


def _banks(given: object) -> int | tuple[tuple[int, ...], ...]:
    if isinstance(given, int) and not isinstance(given, bool):
        if given not in (1, 2):
            raise EngineDefinitionError(f"{written.shorten(given)} banks cannot be", expected="1 or 2")
        return given
    if isinstance(given, list) and all(isinstance(bank, list) and all(type(c) is int for c in bank) for bank in given):
        return tuple(map(tuple, given))
    raise EngineDefinitionError(
        f"{written.shorten(given)} are no banks",
        expected="how many there are, or their cylinders: [[1, 3, 5], [2, 4, 6]]",
    )


_CYLINDERS = {"type": "array", "items": {"type": "integer", "minimum": 1}}

Teeth = Annotated[Number, _number(written.TEETH)]
Pitch = Annotated[Number, _number(written.PITCH)]
Links = Annotated[Number, _number(written.LINKS)]
Pins = Annotated[Number, _number(written.PINS)]
Length = Annotated[Number, _number(written.LENGTH)]
Turn = Annotated[Number, _number(written.TURN)]
Cycle = Annotated[Number, _number(written.CYCLE)]
Travel = Annotated[Number, _number(written.PHASER)]
Limit = Annotated[Number, _number(written.LIMIT)]
Bore = Annotated[Number, _number(written.BORE)]
Rod = Annotated[Number, _number(written.ROD)]
PinOffset = Annotated[Number, _number(written.OFFSET)]
Ratio = Annotated[Number, _number(written.RATIO)]
Displacement = Annotated[Number, _number(written.DISPLACEMENT)]
Event = Annotated[Number, _number(written.EVENT)]
Lift = Annotated[Number, _number(written.LIFT)]
Count = Annotated[Number, _number(written.COUNT)]
Volume = Annotated[Number, _number(written.VOLUME)]
Sign = Annotated[Number, _number(written.SIGN)]
Origin = Annotated[
    Source,
    Described(
        written.parse_source,
        {"type": "string", "description": f"Any words; best begun with one of {', '.join(written.SOURCE_KINDS)}."},
    ),
]
Presence = Annotated[
    float, Described(_presence, {"anyOf": [{"type": "boolean"}, {"type": "number", "minimum": 0, "maximum": 1}]})
]
Banks = Annotated[
    int | tuple[tuple[int, ...], ...],
    Described(_banks, {"anyOf": [{"enum": [1, 2]}, {"type": "array", "items": _CYLINDERS}]}),
]


def _absent(description: str) -> Any:
    return Field(default_factory=lambda: ABSENT, description=description)


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False, str_max_length=200)


class SprocketFile(_Part):
    """One sprocket or pulley of a stage."""

    shaft: str = Field(description='"crank", a cam ("intake", "b2.exhaust"), or any name for an idler.')
    teeth: Teeth = _absent("Its teeth.")
    tight_mm: Length = _absent("Length of chain or belt between the sprocket before it on the tight side and this one.")
    pins: Pins = _absent("Pins between the mark before it on the tight side and its own; say pins_counting.")
    at_mm: list[float] | None = Field(
        default=None, min_length=2, max_length=2, description="Centre from the front: right, up."
    )
    keyed: bool | None = Field(default=None, description="Whether a key or dowel holds it on its shaft.")


class StageFile(_Part):
    """One chain, belt or pair of gears."""

    id: str = Field(min_length=1, description="A name of your own: primary, secondary_1.")
    kind: Literal["chain", "belt", "gear"]
    driver: SprocketFile
    driven: list[SprocketFile] = Field(min_length=1, description="In the order in which the tight side reaches them.")
    pitch_mm: Pitch = _absent("Pitch of the chain or belt.")
    links: Links = _absent("How many links it has.")
    pins_counting: Literal["neither", "one", "both"] | None = Field(
        default=None, description="How many of the two marked pins are in every count of pins."
    )
    tensioner_rest_mm: Length = _absent("How far the tensioner stands out with a new chain.")


class PhaserFile(_Part):
    """The phaser of one cam. Once one is listed, cams not listed have none."""

    cam: str
    range_deg: Travel = _absent("How far it moves the cam from its stop, in crank degrees, + = advance.")
    fitted: Presence = Field(default=1.0, description="Whether there is one at all, or the chance of it.")


class WheelEdgeFile(_Part):
    """One edge of a cam wheel, in crank degrees."""

    edge: Literal["rising", "falling"] | None = Field(default=None, description="Direction of the signal at it.")
    after_tdc_deg: Cycle = _absent("Behind the firing top dead centre of cylinder 1.")
    behind_index_deg: Cycle = _absent("Behind the index edge of the crank wheel.")


class WheelFile(_Part):
    """One tone wheel and the sensor that watches it."""

    shaft: str = Field(description='"crank" or a cam.')
    pattern: str | None = Field(
        default=None, description='A usual pattern by name: "60-2", "36-2-1", "12+1", "half moon".'
    )
    gaps_deg: list[float] | None = Field(
        default=None, min_length=1, description="Or all gaps of one turn; they add up to 360."
    )
    even_edge: Literal["rising", "falling"] | None = Field(
        default=None, description="Which edge sits evenly on the wheel."
    )
    reference_deg: Turn = _absent("Crank wheel only: how far after TDC of cylinder 1 its index edge passes.")
    edges: list[WheelEdgeFile] = Field(default_factory=list, description="A cam wheel's edges.")
    keyed: bool | None = Field(default=None, description="Whether a key or dowel holds it on its shaft.")
    sensor_kind: Literal["hall", "reluctance"] | None = None
    sensor_names: list[str] = Field(default_factory=list, description="What else its sensor is called.")


class ReportingFile(_Part):
    """How the vehicle's computer speaks about its cams."""

    sign: Sign = _absent("What + means.")
    a_is: Literal["intake", "exhaust"] | None = Field(default=None, description="Which cam A, or sensor 1, is.")
    value: Literal["actual", "target", "deviation", "learnt"] | None = Field(
        default=None, description="What its number for a cam's angle is; deviation = actual less target."
    )
    learns: bool | None = Field(default=None, description="Whether it learns a zero for each cam.")
    correlation_limit_deg: Limit = _absent("Where its code for crank against cam sets.")


class CylinderFile(_Part):
    """Sizes of one cylinder, all alike."""

    bore_mm: Bore = _absent("Bore.")
    stroke_mm: Bore = _absent("Stroke: twice the throw.")
    rod_mm: Rod = _absent("Connecting rod from eye to eye.")
    compression_ratio: Ratio = _absent("Compression ratio.")
    pin_offset_mm: PinOffset = _absent("Piston pin from the cylinder's axis, + = towards the thrust side.")
    displacement_l: Displacement = _absent("Displacement of the whole engine, in litres.")


class ValveFile(_Part):
    """The intake or the exhaust valves, with the cam at rest."""

    opens_before_deg: Event = _absent("Intake: before gas-exchange TDC; exhaust: before BDC. Negative: after it.")
    shuts_after_deg: Event = _absent("Intake: after BDC; exhaust: after gas-exchange TDC. Negative: before it.")
    at_lift_mm: Lift = _absent("Lift at which the two angles are counted.")
    lift_mm: Lift = _absent("Greatest lift.")
    diameter_mm: Bore = _absent("Of one head.")
    count: Count = _absent("How many in each cylinder.")


class ValvesFile(_Part):
    """Both kinds of valve."""

    intake: ValveFile | None = None
    exhaust: ValveFile | None = None


class AirFile(_Part):
    """How the engine gets and measures its air, and where the fuel comes in."""

    metering: Literal["air_meter", "speed_density", "both"] | None = None
    injection: Literal["port", "direct", "single_point"] | None = None
    boost: Literal["none", "turbo", "mechanical"] | None = None
    plenum_l: Volume = _absent("Volume of the plenum, in litres.")
    runner_l: Volume = _absent("Volume of one runner, in litres.")
    throttle_mm: Bore = _absent("Bore of the throttle body.")


class EngineFile(_Part):
    """An engine, as far as it is known. Only ``cylinders`` must be there."""

    model_config = ConfigDict(json_schema_extra={"$id": SCHEMA_NAME}, title="Engine description")

    format: Literal["witnessmark/engine/1"] | None = Field(default=None, description="Version of this format.")
    name: str = ""
    cylinders: int = Field(ge=1, le=16)
    layout: Literal["inline", "vee", "flat"] | None = None
    banks: Banks | None = Field(
        default=None, description="The cylinders of each bank, bank 1 first, or how many banks."
    )
    firing_order: list[int] = Field(default_factory=list)
    cams: list[str] = Field(
        default_factory=list, description='"intake", "exhaust", "single": one in every bank; "b1.intake": one cam.'
    )
    drive: str = Field(default="", description="The timing drive in words.")
    source: Origin = Field(
        default_factory=lambda: written.INHERITED, description="Where numbers come from that do not say it themselves."
    )
    strokes: Literal[4] | None = Field(default=None, description="Only four-stroke engines are covered.")
    ignition: Literal["spark"] | None = Field(default=None, description="Only spark ignition is covered.")
    fuel: Literal["petrol", "gasoline", "ethanol", "flex", "gas"] | None = Field(
        default=None, description="Diesel engines are not covered."
    )
    stage: list[StageFile] = Field(default_factory=list, description="From the crank on.")
    phaser: list[PhaserFile] = Field(default_factory=list)
    wheel: list[WheelFile] = Field(default_factory=list)
    reporting: ReportingFile = Field(default_factory=lambda: ReportingFile())
    cylinder: CylinderFile = Field(default_factory=lambda: CylinderFile())
    valves: ValvesFile = Field(default_factory=lambda: ValvesFile())
    air: AirFile = Field(default_factory=lambda: AirFile())


def engine_schema() -> dict[str, Any]:
    """JSON Schema of the engine description, as published in ``docs/schema/engine.schema.json``.

    Returns
    -------
    dict
    """
    schema = EngineFile.model_json_schema()
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}
