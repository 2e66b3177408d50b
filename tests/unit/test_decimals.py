"""Numbers of drawings, written many at once: letter by letter what Python's decimals give."""

from __future__ import annotations

from decimal import ROUND_HALF_EVEN, Decimal

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from cutfiles.files.decimals import rows_of
from cutfiles.tolerances import WRITE_DECIMALS

numbers = st.one_of(
    st.floats(-9.9e6, 9.9e6),
    st.floats(-2.0, 2.0),
    # on the last written decimal, and halfway between two of them
    st.integers(-(10**11), 10**11).map(lambda n: n / 20_000),
    st.integers(-20_000, 20_000).map(lambda n: n / 20_000),
)
points = st.lists(st.tuples(numbers, numbers), max_size=6)


def written(value: float, *, keeps_nought: bool) -> str:
    """Reference: the nearest decimal number with so many places, by Python's exact arithmetic."""
    number = round(Decimal(value), WRITE_DECIMALS).quantize(
        Decimal(10) ** -WRITE_DECIMALS, ROUND_HALF_EVEN
    )
    text = f"{number:f}".rstrip("0")
    text = text + "0" if text.endswith(".") else text
    text = text.removeprefix("-") if float(text) == 0.0 else text
    return text if keeps_nought else text.removesuffix(".0")


@given(lines=st.lists(points, max_size=4), keeps_nought=st.booleans())
@example(lines=[[(0.0, -0.0), (10_000.0, 9_999.99995), (-0.00004, -0.00005)]], keeps_nought=True)
@example(lines=[[(1_234_567.5, 9_234_000.0), (10_000.0001, 9_999_999.9999)]], keeps_nought=False)
def test_rows_are_what_exact_decimals_are(
    lines: list[list[tuple[float, float]]], keeps_nought: bool
) -> None:
    arrays = [np.array(line, dtype=np.float64).reshape(-1, 2) for line in lines]
    found = list(rows_of(arrays, ("<", "|", ">\n"), keeps_nought=keeps_nought))
    assert len(found) == len(lines)
    for line, (text, begins) in zip(lines, found, strict=True):
        x_and_y = [[written(one, keeps_nought=keeps_nought) for one in place] for place in line]
        assert text == "".join(f"<{x}|{y}>\n" for x, y in x_and_y)
        assert [text[at] for at in begins[:-1]] == ["<"] * len(line)
        assert begins[-1] == len(text)


def test_y_may_count_down() -> None:
    places = np.array([[1.0, 2.5]])
    ((text, _),) = rows_of([places], ("", ",", ""), keeps_nought=False, down_from_mm=10.0)
    assert text == "1,7.5"  # derived: 10 - 2.5
    assert places.tolist() == [[1.0, 2.5]]


def test_many_lines_are_written_as_one_by_one() -> None:
    lines = [np.full((4000, 2), number) for number in (0.5, -7.25, 30_000.0, 8.0, 9.0)]
    row = ("", ",", ";")
    together = list(rows_of(lines, row, keeps_nought=False))
    assert together == [next(rows_of([line], row, keeps_nought=False)) for line in lines]
    assert [text[: begins[1]] for text, begins in together] == [
        "0.5,0.5;", "-7.25,-7.25;", "30000,30000;", "8,8;", "9,9;",
    ]  # fmt: skip


@pytest.mark.parametrize("number", [float("nan"), float("inf"), -1e7])
def test_what_has_no_such_decimals_is_refused(number: float) -> None:
    with pytest.raises(ValueError, match="too far off to be written"):
        list(rows_of([np.array([[0.0, number]])], ("", ",", ""), keeps_nought=True))
