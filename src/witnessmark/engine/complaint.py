"""One thing in a description that cannot be, with its place."""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.errors import EngineDefinitionError

__all__ = ["Complaint"]


@dataclass(frozen=True, slots=True)
class Complaint:
    """One thing that cannot be.

    Parameters
    ----------
    place : str
        Path of keys, with names for the numbers of lists: "stage.primary.driver.teeth".
    message : str
    expected, todo : str
    """

    place: str
    message: str
    expected: str = ""
    todo: str = ""

    def error(self, where: str = "", *, more: int = 0) -> EngineDefinitionError:
        """As an error ready to raise; ``more`` counts the complaints that are not shown."""
        todo = self.todo
        if more:
            todo = f"{todo.rstrip('.')}. " if todo else ""
            todo += f"{more} more {'thing' if more == 1 else 'things'} to put right after that"
        place = ", ".join(filter(None, (where, self.place)))
        return EngineDefinitionError(
            self.message, expected=self.expected or None, where=place or None, todo=todo or None
        )
