"""The standard library's data classes, with methods made when they are first used: a run uses few of what it imports.

The standard decorator writes and compiles six methods for every class, which is most of what starting up takes. Here
``__init__`` is compiled when a class is first built; equality, hash and words are shared by all classes. Fields, and
what :func:`dataclasses.fields` and :func:`dataclasses.replace` do with them, are the standard library's.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from dataclasses import MISSING, Field, FrozenInstanceError, field, fields, replace
from operator import attrgetter
from typing import TYPE_CHECKING, Any, TypeVar

__all__ = ["dataclass", "field", "fields", "replace"]

T = TypeVar("T")

_ALL = ("__init__", "__repr__", "__eq__", "__hash__", "__setattr__", "__delattr__")


def _late(
    cls: type[T] | None = None, /, *, frozen: bool = False, slots: bool = False, eq: bool = True, order: bool = False
) -> Any:
    """As :func:`dataclasses.dataclass`, with methods made when they are first used.

    Parameters
    ----------
    cls : type, optional
    frozen, slots, eq, order : bool

    Returns
    -------
    type, or callable (type) -> type
    """

    def made(given: type[T]) -> type[T]:
        if _is_usual(given, order):
            return _made(given, frozen=frozen, slots=slots, eq=eq)
        return dataclasses.dataclass(frozen=frozen, slots=slots, eq=eq, order=order)(given)

    return made if cls is None else made(cls)


if TYPE_CHECKING:
    from dataclasses import dataclass
else:
    dataclass = _late


def _is_usual(cls: type, order: bool) -> bool:
    """Whether a class is of the plain kind: no order, no parent with fields, no method of its own among those made, no
    field with a rule of its own for its hash or its place among the arguments.
    """
    if order or any(dataclasses.is_dataclass(base) for base in cls.__mro__[1:]):
        return False
    if any(name in vars(cls) for name in _ALL):
        return False
    if any(isinstance(one, Field) and (one.hash is not None or one.kw_only is True) for one in vars(cls).values()):
        return False
    said = repr(vars(cls).get("__annotations__", {}))
    return "KW_ONLY" not in said and "InitVar" not in said


def _made(cls: type[T], *, frozen: bool, slots: bool, eq: bool) -> type[T]:
    plain: Any = dataclasses.dataclass(init=False, repr=False, eq=False, slots=slots)(cls)
    plain.__dataclass_params__.frozen = frozen  # so that a child of it is held to the same
    plain.__init__ = _first_init(plain, frozen)
    plain.__repr__ = _repr(tuple(one.name for one in fields(plain) if one.repr))
    if eq:
        values = _values(tuple(one.name for one in fields(plain) if one.compare))
        plain.__eq__ = _eq(values)
        plain.__hash__ = _hash(values) if frozen else None
    if frozen:
        plain.__setattr__, plain.__delattr__ = _no_setting, _no_deleting
        if slots:
            plain.__getstate__, plain.__setstate__ = _state, _put_state
    made: type[T] = plain
    return made


# ---------------------------------------------------------------- made at first use


def _first_init(cls: Any, frozen: bool) -> Callable[..., None]:
    def __init__(self: object, *args: object, **kwargs: object) -> None:
        cls.__init__ = _init(cls, frozen)
        cls.__init__(self, *args, **kwargs)

    return __init__


def _init(cls: Any, frozen: bool) -> Callable[..., None]:
    """``__init__`` as one would write it."""
    known: dict[str, Any] = {"_late_set": object.__setattr__, "_late_missing": MISSING}
    given, lines = ["self"], []
    for one in fields(cls):
        value = _value(one, known, given)
        if value is not None:
            lines.append(f"_late_set(self, {one.name!r}, {value})" if frozen else f"self.{one.name} = {value}")
    if hasattr(cls, "__post_init__"):
        lines.append("self.__post_init__()")
    body = "\n    ".join(lines or ["pass"])
    exec(f"def __init__({', '.join(given)}):\n    {body}", known)
    init: Callable[..., None] = known["__init__"]
    init.__qualname__ = f"{cls.__qualname__}.__init__"
    return init


def _value(one: Field[Any], known: dict[str, Any], given: list[str]) -> str | None:
    """What a field is set to, as code; notes the parameter and the default that this takes."""
    usual = f"_late_{one.name}"
    if one.default_factory is not MISSING:
        known[usual] = one.default_factory
        if not one.init:
            return f"{usual}()"
        given.append(f"{one.name}=_late_missing")
        return f"{usual}() if {one.name} is _late_missing else {one.name}"
    if one.default is not MISSING:
        known[usual] = one.default
        if not one.init:
            return usual
        given.append(f"{one.name}={usual}")
        return one.name
    if not one.init:
        return None
    given.append(one.name)
    return one.name


# ---------------------------------------------------------------- shared


def _values(names: tuple[str, ...]) -> Callable[[Any], Any]:
    if len(names) > 1:
        return attrgetter(*names)
    if not names:
        return lambda one: ()
    only = attrgetter(*names)
    return lambda one: (only(one),)


def _eq(values: Callable[[Any], Any]) -> Callable[[object, object], bool]:
    def __eq__(self: object, other: object) -> bool:
        if other.__class__ is not self.__class__:
            return NotImplemented
        return bool(values(self) == values(other))

    return __eq__


def _hash(values: Callable[[Any], Any]) -> Callable[[object], int]:
    def __hash__(self: object) -> int:
        return hash(values(self))

    return __hash__


def _repr(names: tuple[str, ...]) -> Callable[[object], str]:
    def __repr__(self: object) -> str:
        said = ", ".join([f"{name}={getattr(self, name)!r}" for name in names])
        return f"{self.__class__.__qualname__}({said})"

    return __repr__


def _no_setting(self: object, name: str, value: object) -> None:
    raise FrozenInstanceError(f"cannot assign to field {name!r}")


def _no_deleting(self: object, name: str) -> None:
    raise FrozenInstanceError(f"cannot delete field {name!r}")


def _state(self: Any) -> list[Any]:
    return [getattr(self, one.name) for one in fields(self)]


def _put_state(self: Any, state: list[Any]) -> None:
    for one, value in zip(fields(self), state, strict=True):
        object.__setattr__(self, one.name, value)
