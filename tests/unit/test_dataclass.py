"""Data classes whose methods are made late, against the standard library's: the same fields, the same behaviour."""

from __future__ import annotations

import copy
import dataclasses
import pickle
from collections.abc import Callable
from typing import Any

import pytest

from witnessmark.dataclass import dataclass, field, fields, replace

Decorator = Callable[..., Any]


def _kinds(decorate: Decorator) -> dict[str, Any]:
    """The same classes by one decorator or the other."""

    @decorate(frozen=True, slots=True)
    class Point:
        """Two numbers and what has a default."""

        x: float
        y: float = 2.0
        names: list[str] = field(default_factory=list)
        hidden: int = field(default=7, repr=False, compare=False)

    @decorate(frozen=True)
    class Alone:
        """One field."""

        only: tuple[int, ...]

    @decorate(slots=True)
    class Moving:
        """May be set."""

        a: int
        told: dict[str, int] = field(init=False, default_factory=dict)
        later: int = field(init=False)

        def __post_init__(self) -> None:
            self.later = self.a + 1

    @decorate(frozen=True, slots=True, eq=False)
    class Itself:
        """Equal to itself only."""

        a: int

    @decorate(frozen=True, slots=True, order=True)
    class Ranked:
        """In order."""

        a: int

    @decorate(frozen=True, slots=True)
    class Child(Point):
        """With a parent."""

        z: int = 1

    @decorate(frozen=True, slots=True)
    class Empty:
        """Nothing in it."""

    return {one.__name__: one for one in (Point, Alone, Moving, Itself, Ranked, Child, Empty)}


LATE, STANDARD = _kinds(dataclass), _kinds(dataclasses.dataclass)
BUILT: list[tuple[str, tuple[Any, ...], dict[str, Any]]] = [
    ("Point", (1.0,), {}),
    ("Point", (1.0, 3.0), {"hidden": 1}),
    ("Point", (), {"y": 1.0, "x": 0.0, "names": ["a"]}),
    ("Alone", ((1, 2),), {}),
    ("Moving", (4,), {}),
    ("Itself", (1,), {}),
    ("Ranked", (1,), {}),
    ("Child", (1.0,), {"z": 3}),
    ("Empty", (), {}),
]


@pytest.mark.parametrize(("name", "args", "kwargs"), BUILT)
def test_fields_and_words_are_the_standard_ones(name: str, args: tuple[Any, ...], kwargs: dict[str, Any]) -> None:
    late, standard = LATE[name](*args, **kwargs), STANDARD[name](*args, **kwargs)
    assert repr(late) == repr(standard)
    assert [one.name for one in fields(late)] == [one.name for one in dataclasses.fields(standard)]
    assert dataclasses.asdict(late) == dataclasses.asdict(standard)
    assert LATE[name].__match_args__ == STANDARD[name].__match_args__
    assert hasattr(late, "__dict__") == hasattr(standard, "__dict__")


@pytest.mark.parametrize("name", ["Point", "Alone", "Itself", "Ranked", "Empty"])
def test_equality_and_hash_are_the_standard_ones(name: str) -> None:
    args: list[tuple[Any, ...]] = [(), ()] if name == "Empty" else [(1,), (1,), (2,)]
    late, standard = [LATE[name](*one) for one in args], [STANDARD[name](*one) for one in args]
    for a in range(len(args)):
        assert late[a] != standard[a]
        for b in range(len(args)):
            assert (late[a] == late[b]) == (standard[a] == standard[b])
    if name not in ("Point", "Itself"):  # of a list there is no hash, of an object itself it is its place
        assert [hash(one) for one in late] == [hash(one) for one in standard]
    assert (LATE["Moving"].__hash__ is None) == (STANDARD["Moving"].__hash__ is None)


@pytest.mark.parametrize(("args", "kwargs"), [((), {}), ((1, 2, [], 4, 5), {}), ((1,), {"z": 1}), ((1,), {"x": 1})])
def test_wrong_arguments_are_refused_as_by_the_standard_one(args: tuple[Any, ...], kwargs: dict[str, Any]) -> None:
    for kinds in (LATE, STANDARD):
        with pytest.raises(TypeError):
            kinds["Point"](*args, **kwargs)


@pytest.mark.parametrize("name", ["Point", "Alone", "Child"])
def test_frozen_is_frozen(name: str) -> None:
    for kinds in (LATE, STANDARD):
        one = kinds[name](1)
        for each in fields(one):
            with pytest.raises(dataclasses.FrozenInstanceError):
                setattr(one, each.name, 1)
            with pytest.raises(dataclasses.FrozenInstanceError):
                delattr(one, each.name)


def test_a_child_that_is_not_frozen_is_refused() -> None:
    with pytest.raises(TypeError, match="frozen"):

        @dataclass
        class Loose(LATE["Point"]):  # type: ignore[misc]
            z: int = 1


@pytest.mark.parametrize("name", ["Point", "Moving", "Child"])
def test_lists_and_mappings_of_two_objects_are_two(name: str) -> None:
    one, other = LATE[name](1), LATE[name](1)
    what = "told" if name == "Moving" else "names"
    assert getattr(one, what) is not getattr(other, what)


def test_copies_and_changes() -> None:
    one = LATE["Point"](1.0, names=["a"])
    assert replace(one, x=3.0) == LATE["Point"](3.0, names=["a"])
    deep = copy.deepcopy(one)
    assert deep == one
    assert deep.names is not one.names
    assert copy.copy(one) == one


def test_what_is_frozen_can_be_pickled() -> None:
    from witnessmark.finding import Finding
    from witnessmark.vocabulary import Condition

    assert dataclasses.is_dataclass(Finding)
    one = Condition(state="idle", speed_rpm=800.0)
    assert pickle.loads(pickle.dumps(one)) == one  # noqa: S301 - its own
