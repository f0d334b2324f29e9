"""The shape of ``case.toml``, as pydantic models: which keys there are and what they hold.

Imported only where a case is read; a typed ``examine`` needs none of it.
"""

from __future__ import annotations

from datetime import date, datetime, time
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

__all__ = [
    "SCHEMA_NAME",
    "AgreedFile",
    "CaseFile",
    "CodeFile",
    "DoneFile",
    "FreezeFile",
    "OnBoardTestFile",
    "ReadingFile",
    "case_schema",
]

SCHEMA_NAME = "witnessmark/case/1"


def _as_list(given: object) -> object:
    return [given] if isinstance(given, str) else given


def _as_text(given: object) -> object:
    """Dates as TOML knows them, and plain numbers, are as good as text where a person writes when."""
    if isinstance(given, date | datetime | time) or (isinstance(given, int | float) and not isinstance(given, bool)):
        return str(given)
    return given


Lines = Annotated[list[str], BeforeValidator(_as_list)]
When = Annotated[str, BeforeValidator(_as_text)]
Value = str | int | float | bool


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False)


class DoneFile(_Part):
    """One job done before the vehicle came in, or since."""

    when: When = Field("", description="Date or words.")
    what: str = Field("", description="What was done, in words; made from did if left out.")
    result: str = Field("", description="What came of it, in words; made from did if left out.")
    did: str | None = Field(None, description="The same so that it can be weighed: fitted part=cam_sensor cured=no.")


class ReadingFile(_Part):
    """One reading as a table, instead of a line under saw."""

    quantity: str
    value: Value
    unit: str = ""
    sd: float | None = Field(None, description="One standard deviation, in unit.")
    place: dict[str, str | int] = Field(default_factory=dict)
    condition: dict[str, str | float] = Field(default_factory=dict)
    checked: bool = Field(False, description="An odd figure that was asked back: looked at again, and it stands.")
    note: str = Field("", description="In words; kept, not weighed.")
    struck: bool = Field(False, description="Struck out: it stays in the file and is not weighed.")


class CodeFile(_Part):
    """One trouble code as a table, instead of a line under codes."""

    code: str = Field(description="P0171; a failure type byte behind it, as in P0171-00, is kept.")
    set: bool = Field(True, description="False: it was looked for, and is not set.")
    status: Lines = Field(
        default_factory=list,
        description="confirmed, pending, permanent, failed, failed_this_cycle, failed_since_clear, "
        "not_completed_this_cycle, not_completed_since_clear, lamp.",
    )
    monitor_ran: bool | None = Field(None, description="Whether its monitor had its chance; left out = not known.")
    unit: str = Field("", description="Which computer, in words.")
    note: str = Field("", description="In words; kept, not weighed.")
    struck: bool = Field(False, description="Struck out: it stays in the file and is not weighed.")


class FreezeFile(_Part):
    """The freeze frame of a code: readings, each a line as under saw, without freeze=."""

    code: str
    saw: Lines


class OnBoardTestFile(_Part):
    """One result of an on-board test with its limits (service 06)."""

    monitor: str = Field(description="Number as the standard writes it, hexadecimal, or words: A2.")
    test: str = Field(description="Number of the test, hexadecimal, or words: 0B.")
    value: float
    low: float | None = Field(None, description="Least allowed.")
    high: float | None = Field(None, description="Most allowed.")
    measured_in: str = Field("", description="Unit of value and limits.")
    words: str = Field("", description="What it is.")
    unit: str = Field("", description="Which computer, in words.")


class AgreedFile(_Part):
    """What the owner agreed to so far; the plan stays inside it."""

    minutes: float | None = Field(None, ge=0, description="Labour agreed to in all; left out: no limit.")
    used_minutes: float = Field(0.0, ge=0, description="What of it is used up.")
    money: float | None = Field(None, ge=0, description="Money agreed to in all, in the shop's currency.")
    used_money: float = Field(0.0, ge=0, description="What of it is used up.")
    covers: list[str] | None = Field(
        None, description="What may come off: plug_out, valve_cover_off; left out: anything."
    )
    without: list[str] = Field(
        default_factory=list, description="Tests that are not to be had on this vehicle, by their names: leak_down."
    )
    per_hour: float | None = Field(
        None, gt=0, description="Price of an hour of labour; without it money is parts alone."
    )
    parts: dict[str, float] = Field(default_factory=dict, description="What the parts of a repair cost, by its name.")


class CaseFile(_Part):
    """One vehicle, one complaint: what a person types."""

    model_config = ConfigDict(
        extra="forbid",
        strict=True,
        frozen=True,
        allow_inf_nan=False,
        json_schema_extra={"$id": SCHEMA_NAME},
        title="Case",
    )

    format: Literal["witnessmark/case/1"] | None = Field(None, description="Version of this format.")
    title: str = Field("", description="One line.")
    complaint: str = Field("", description="The owner's own words.")
    vehicle: str = Field("", description="In words, without plate or VIN: those stand in owner.toml.")
    came_in: When = Field("", description="Date.")
    complaint_seen: bool | None = Field(None, description="Whether the complaint was seen here.")
    when: Lines = Field(default_factory=list, description="When the complaint shows: cold, load …")
    engine: str | dict[str, Any] | None = Field(
        None, description="Name of a described engine, or a description as a table; or engine.toml beside this file."
    )
    cylinders: int | None = Field(None, ge=1, le=16, description="Enough where nothing else is known of the engine.")
    known: Lines | dict[str, Value] = Field(default_factory=list, description="Facts: metering=air_meter km=187400.")
    codes: Lines = Field(default_factory=list, description="Trouble codes that are set.")
    code: list[CodeFile] = Field(default_factory=list, description="Trouble codes as tables, with their status.")
    readiness: Lines | dict[str, str] = Field(
        default_factory=list,
        description="Which monitors have run since codes were cleared: catalyst=complete evaporation=incomplete.",
    )
    freeze: list[FreezeFile] = Field(default_factory=list, description="Freeze frames.")
    on_board_test: list[OnBoardTestFile] = Field(default_factory=list, description="Results of on-board tests.")
    saw: Lines = Field(default_factory=list, description="Readings, one a line.")
    reading: list[ReadingFile] = Field(default_factory=list, description="Readings as tables.")
    did: Lines = Field(default_factory=list, description="Work done, one job a line.")
    done: list[DoneFile] = Field(default_factory=list, description="Work done, with when and in words.")
    agreed: AgreedFile | None = Field(None, description="What the owner agreed to.")
    leave_out: Lines = Field(default_factory=list, description="Recordings that are kept and not measured.")


def case_schema() -> dict[str, Any]:
    """JSON Schema of ``case.toml``, as published in ``docs/schema/case.schema.json``.

    Returns
    -------
    dict
    """
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **CaseFile.model_json_schema()}
