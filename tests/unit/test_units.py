"""Lengths as people write them, and as they are shown."""

from __future__ import annotations

import pytest

from cutfiles.units import format_length, parse_length_mm


@pytest.mark.parametrize(
    ("written", "unit", "mm"),
    [
        # the inch is 25.4 mm exactly: international yard and pound agreement, 1959
        ("6 1/2 in", "mm", 165.1),
        ("6½ in", "mm", 165.1),
        ("6 ½ in", "mm", 165.1),
        ("6-1/2 in", "mm", 165.1),
        ("1 1/4 yd", "mm", 1143.0),
        ("½ in", "mm", 12.7),
        ("3⁄4 in", "mm", 19.05),
        ("165 mm", "in", 165.0),
        ("16.5 cm", "in", 165.0),
        ('6.5"', "mm", 165.1),
        ("2 Yards", "mm", 1828.8),
        ("1 m", "mm", 1000.0),
        ("36", "in", 914.4),
        (44, "in", 1117.6),
        (44.5, "cm", 445.0),
        ("-3 in", "mm", -76.2),
        (".5 in", "mm", 12.7),
    ],
)
def test_lengths_as_people_write_them(written: object, unit: str, mm: float) -> None:
    assert parse_length_mm(written, default_unit=unit) == pytest.approx(mm, abs=1e-9)


@pytest.mark.parametrize(
    ("written", "reason"),
    [
        ("3 furlongs", "no unit known here"),
        ("16,5 cm", "decimal point"),
        ("wide", "not a length"),
        ("", "not a length"),
        ("1/0 in", "divides by zero"),
        (float("nan"), "not a finite length"),
        (float("inf"), "not a finite length"),
        ("9" * 400 + " mm", "not a finite length"),
        (True, "not a length"),
        (None, "not a length"),
        ([3], "not a length"),
    ],
)
def test_what_is_no_length_says_why(written: object, reason: str) -> None:
    with pytest.raises(ValueError, match=reason):
        parse_length_mm(written, default_unit="mm")


def test_lengths_are_shown_in_the_unit_of_the_job() -> None:
    assert format_length(1583.4, "mm") == "1583 mm"
    assert format_length(1583.4, "in") == "62.3 in"
