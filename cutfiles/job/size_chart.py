"""The size chart as text: girths, hat sizes, and what share of people each size fits."""

from __future__ import annotations

from collections.abc import Iterator

from cutfiles.job.head_girths import CHILDREN, share_of_size
from cutfiles.job.sizes import ADULT_SIZES, CHILD_SIZES, SIZES, Size, metric_hat_size, us_hat_size

_ROW = "{:<5} {:<14} {:<12} {:<9} {:<9} {:>7} {:>7}"
_CHILD_ROW = "{:<5} {:>9} {:>9} {:>9} {:>9}"


def chart_lines() -> Iterator[str]:
    """The lines of the chart.

    The US hat size is girth in inches over pi to the nearest eighth, the metric one the girth in
    whole centimetres (public hat-size charts). UK charts do not agree with each other and are left
    out.
    """
    yield _ROW.format("size", "head girth", "drafted", "US hat", "metric", "women", "men")
    for size in SIZES:
        adult = size in ADULT_SIZES
        yield _ROW.format(
            size.name,
            _range_cm(size),
            f"{size.girth_mm / 10:.1f} cm",
            us_hat_size(size.girth_mm),
            f"{metric_hat_size(size.girth_mm)}",
            f"{share_of_size(size, 'women'):.1%}" if adult else "",
            f"{share_of_size(size, 'men'):.1%}" if adult else "",
        )
    yield ""
    heads = [f"{child.sex} {child.age_years} y" for child in CHILDREN]
    yield _CHILD_ROW.format("size", *heads)
    for size in (*CHILD_SIZES, ADULT_SIZES[0]):
        shares = [c.share_between(size.girth_low_mm, size.girth_high_mm) for c in CHILDREN]
        yield _CHILD_ROW.format(size.name, *(f"{share:.1%}" for share in shares))
    yield ""
    yield "Adults: ANSUR II survey, NATICK/TR-15/007 (US soldiers: take it as a guide)."
    yield "Children: WHO Child Growth Standards."


def _range_cm(size: Size) -> str:
    return f"{size.girth_low_mm / 10:.1f}-{size.girth_high_mm / 10:.1f} cm"
