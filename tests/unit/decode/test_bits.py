"""Fields of bits against whole numbers taken apart bit by bit."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.decode.bits import Field, field_values
from witnessmark.errors import InputError


@st.composite
def fields(draw: st.DrawFn) -> tuple[Field, int]:
    """A field of any kind and a width of frame that holds it."""
    width = draw(st.sampled_from([8, 64]))
    length = draw(st.integers(1, 80))
    first = draw(st.integers(0, 8 * width - min(length, 8 * width)))
    length = min(length, 8 * width - first)
    order = draw(st.sampled_from(["little", "big"]))
    start = first if order == "little" else 8 * (first // 8) + 7 - first % 8
    return Field(start, length, order, draw(st.booleans())), width


def by_bits(row: bytes, field: Field) -> int:
    """The definition itself: bits picked one by one in the order in which they are read."""
    if field.order == "little":
        bits = [row[i // 8] >> i % 8 & 1 for i in range(field.start, field.start + field.length)][::-1]
    else:
        bits = [row[i // 8] >> (7 - i % 8) & 1 for i in range(field.first, field.first + field.length)]
    value = int("".join(map(str, bits)), 2)
    return value - (1 << field.length) if field.signed and bits[0] else value


@given(fields(), st.integers(0, 2**32))
def test_any_field_of_any_frame(drawn: tuple[Field, int], seed: int) -> None:
    field, width = drawn
    data = np.random.default_rng(seed).integers(0, 256, (7, width), dtype=np.uint8)
    found = field_values(data, field)
    expected = [by_bits(row.tobytes(), field) for row in data]
    if field.length <= 64:
        assert found.tolist() == expected
        assert found.dtype.itemsize <= max(1, 2 ** int(np.ceil(np.log2(max(1, field.length / 8)))))
    else:
        assert found.tolist() == [float(value) for value in expected]
    assert 8 * field.bytes_needed >= field.length


@pytest.mark.parametrize("bits", [16, 32, 64])
@pytest.mark.parametrize("order", ["little", "big"])
def test_floating_point(bits: int, order: str) -> None:
    dtype = np.dtype(f"{'<' if order == 'little' else '>'}f{bits // 8}")
    values = np.array([0.0, 1.5, -273.25, 6.0e4], dtype)
    data = np.zeros((4, 16), np.uint8)
    data[:, 3 : 3 + bits // 8] = values.view(np.uint8).reshape(4, -1)
    field = Field(24 if order == "little" else 31, bits, order, floating=True)  # type: ignore[arg-type]
    assert field_values(data, field).tolist() == values.tolist()


def test_whole_bytes() -> None:
    data = np.array([[0, 0, 0x0B, 0xB8]], np.uint8)
    assert field_values(data, Field.of_bytes(2, 3, "big")).tolist() == [3000]
    assert field_values(data, Field.of_bytes(2, 3, "little")).tolist() == [0xB80B]
    assert field_values(data, Field.of_bytes(3, 3, "big", signed=True)).tolist() == [0xB8 - 256]


@pytest.mark.parametrize("arguments", [(0, 0, "big"), (-1, 8, "big"), (508, 8, "little"), (0, 8, "big", False, True)])
def test_fields_that_no_frame_holds(arguments: tuple[int, int, str]) -> None:
    with pytest.raises(InputError):
        Field(*arguments)  # type: ignore[arg-type]


def test_frames_too_short_for_a_field() -> None:
    with pytest.raises(InputError, match="too short"):
        field_values(np.zeros((2, 8), np.uint8), Field(60, 8, "little"))
