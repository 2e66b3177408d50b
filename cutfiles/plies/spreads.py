"""How the plies of one mix are shared out to lays."""

from __future__ import annotations


def spreads(plies: int, most: int) -> tuple[int, ...]:
    """So many plies in as few spreads as can be: full ones, and one of what is left
    (I. Vilumsone-Nemes, "Industrial Cutting of Textile Materials", Table 4.1, p. 33)."""
    full, rest = divmod(plies, most)
    return (most,) * full + ((rest,) if rest else ())
