"""Where something stands in ``case.toml``, for messages; and how its values are written in a line."""

from __future__ import annotations

from witnessmark.case.form import line_of
from witnessmark.errors import InputError

__all__ = ["CASE_FILE", "at_line", "written"]

CASE_FILE = "case.toml"
"""Name of the file that a person types into."""


class at_line:
    """Names the line of the file in whatever is refused inside.

    Parameters
    ----------
    text : str
        Of the file.
    *lines : str
        Lines in quotation marks, or keys; the first that is found there.
    """

    def __init__(self, text: str, *lines: str) -> None:
        self.row = next((row for line in lines if (row := line_of(text, line)) is not None), None)

    def __enter__(self) -> None:
        return None

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: object) -> None:
        if isinstance(error, InputError):
            raise error.at(f"{CASE_FILE}, line {self.row}" if self.row else CASE_FILE) from None


def written(value: str | int | float | bool) -> str:
    """A value of TOML as a typed line has it: "yes", "780".

    Parameters
    ----------
    value : str, int, float or bool

    Returns
    -------
    str
    """
    return ("yes" if value else "no") if isinstance(value, bool) else str(value)
