"""What of the state some readings look at: whatever else a fault edits cannot move them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from witnessmark.engine.state import State, Values
from witnessmark.predict.codes import code_chance
from witnessmark.predict.model import DriveModel
from witnessmark.predict.run import expect
from witnessmark.vocabulary import Query

__all__ = ["asked_of"]


class _Noted(Mapping[tuple[str, str], Values]):
    """The edits of a sound engine, which are none, and what was asked of them."""

    def __init__(self) -> None:
        self.asked: set[tuple[str, str]] = set()
        self.looked_through = False

    def __getitem__(self, key: tuple[str, str]) -> Values:
        self.asked.add(key)
        raise KeyError(key)

    def __iter__(self) -> Iterator[tuple[str, str]]:
        self.looked_through = True
        return iter(())

    def __len__(self) -> int:
        self.looked_through = True
        return 0


def asked_of(model: DriveModel, queries: Sequence[Query]) -> frozenset[tuple[str, str]] | None:
    """The variables and places that readings of the timing drive and its codes look at.

    Parameters
    ----------
    model : DriveModel
    queries : sequence of Query
        Whose predictions ask for the same whatever the state is, as the sums of the drive do.

    Returns
    -------
    frozenset of (variable, place), or None
        None where a prediction looks through all edits there are: then anything may bear on it.
    """
    noted = _Noted()
    state = State(noted)
    plain = [query for query in queries if query.quantity != "code_state"]
    if plain:
        expect(model, plain, state)
    for query in queries:
        if query.quantity == "code_state":
            code_chance(model, str(query.place.get("code")), state, {}, 1)
    return None if noted.looked_through else frozenset(noted.asked)
