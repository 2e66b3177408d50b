"""Lengths, speeds and times as people write them, and lengths as they are shown."""

from __future__ import annotations

import pytest

from cutfiles.units import (
    RULER_STEP_MM,
    format_length,
    format_like,
    format_steps,
    parse_acceleration_mm_s2,
    parse_length_mm,
    parse_speed_mm_s,
    parse_time_s,
    ruler_steps,
)


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


@pytest.mark.parametrize(
    ("text", "unit", "speed"),
    [
        ("100 mm/s", "in", 100.0),
        ("6 m/min", "mm", 100.0),
        ("4 in/s", "mm", 101.6),
        ("20 ft / min", "mm", 101.6),
        ("1/2 in/sec", "mm", 12.7),
        (100, "mm", 100.0),
        (4, "in", 101.6),
    ],
)
def test_speeds(text: object, unit: str, speed: float) -> None:
    # derived from the units
    assert parse_speed_mm_s(text, default_unit=unit) == pytest.approx(speed)


@pytest.mark.parametrize(
    "text", ["1000 mm/s2", "1 m/s²", "1000 mm/s^2", "100 cm/s/s", "3600 m/min2", 1000]
)
def test_accelerations(text: object) -> None:
    # derived from the units
    assert parse_acceleration_mm_s2(text, default_unit="mm") == pytest.approx(1000.0)


@pytest.mark.parametrize(
    ("text", "seconds"), [("0.2 s", 0.2), ("200 ms", 0.2), ("1 min", 60), (3, 3)]
)
def test_times(text: object, seconds: float) -> None:
    assert parse_time_s(text) == pytest.approx(seconds)


@pytest.mark.parametrize(
    "text", ["100", "100 mm", "100/s", "mm/s", "9 mm/h", "9 furlongs/s", True, None, "9 mm/s2"]
)
def test_what_is_no_speed(text: object) -> None:
    with pytest.raises(ValueError, match=r"write it like|use mm, cm|is not a length"):
        parse_speed_mm_s(text, default_unit="mm")


@pytest.mark.parametrize("text", ["9 mm/s", "9 mm/s/min", float("nan"), [1]])
def test_what_is_no_acceleration(text: object) -> None:
    with pytest.raises(ValueError, match="write it like"):
        parse_acceleration_mm_s2(text, default_unit="mm")


@pytest.mark.parametrize("text", ["", "s", "2 h", "1,5 s", False, float("inf"), None])
def test_what_is_no_time(text: object) -> None:
    with pytest.raises(ValueError, match="write a number of seconds"):
        parse_time_s(text)


@pytest.mark.parametrize(
    ("mm", "unit", "up", "steps", "words"),
    [
        (165.1, "in", True, 52, "6 1/2 in"),
        (165.2, "in", True, 53, "6 5/8 in"),
        (165.2, "in", False, 52, "6 1/2 in"),
        (304.8, "in", True, 96, "12 in"),
        (3.0, "in", True, 1, "1/8 in"),
        (0.0, "in", True, 0, "0 in"),
        (165.1, "cm", True, 166, "16.6 cm"),
        (165.1, "mm", False, 165, "165 mm"),
        (165.0000001, "mm", True, 165, "165 mm"),
    ],
)
def test_lengths_by_the_ruler(mm: float, unit: str, up: bool, steps: int, words: str) -> None:
    assert ruler_steps(mm, unit, up=up) == steps
    assert format_steps(steps, unit) == words
    # what is written is read as the same length again
    read = parse_length_mm(words, default_unit="mm")
    assert read == pytest.approx(steps * RULER_STEP_MM[unit])


@pytest.mark.parametrize("written", ["3 mm", "3 cm", "3 in", "3 yd", "1/2 m", 3])
@pytest.mark.parametrize("mm", [0.0, 165.1, 1583.4567, 12345.6789, 123456.789, 199999.9999])
def test_a_length_written_like_another_is_no_longer_than_it_is(written: object, mm: float) -> None:
    # derived: cut down to a thousandth of its unit, the largest of which here is the metre
    text = format_like(written, mm, default_unit="cm")
    assert isinstance(text, str) == isinstance(written, str)
    read = parse_length_mm(text, default_unit="cm")
    assert mm - 1.0 - 1e-9 <= read <= mm + 1e-5
