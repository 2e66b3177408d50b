"""Colours of lines on light and on dark ground."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from cutfiles.cuts.plan import Role

_LIGHT_INK: Final = "#f2efe8"
_DARK_INK: Final = "#1d1d1b"
_LIGHT_GROUND: Final = "#fffdf8"
_DARK_GROUND: Final = "#1f2326"
_LEAST_CONTRAST: Final = 1.9
"""Lines differ by their dashes, ends and places as well; they only have to be seen."""


def on_both_grounds(colours: Mapping[Role, str]) -> dict[Role, str]:
    """Values of CSS that hold on light and on dark ground: a colour that is lost on one of them
    gives way to ink there. ``colours`` are ``#rrggbb``."""
    return {
        role: f"light-dark({_seen(colour, _LIGHT_GROUND, _DARK_INK)},"
        f"{_seen(colour, _DARK_GROUND, _LIGHT_INK)})"
        for role, colour in colours.items()
    }


def _seen(colour: str, ground: str, ink: str) -> str:
    return colour if contrast(colour, ground) >= _LEAST_CONTRAST else ink


def contrast(one: str, other: str) -> float:
    """The contrast ratio of two colours (WCAG 2.2, "contrast ratio")."""
    light, dark = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def _luminance(colour: str) -> float:
    """Relative luminance (WCAG 2.2, "relative luminance")."""
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4
        for part in (int(colour[k : k + 2], 16) / 255.0 for k in (1, 3, 5))
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue
