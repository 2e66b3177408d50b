"""An SVG file's elements one after the other, behind defusedxml: no tree of them is made, which
would take several times as much memory as the file."""

from __future__ import annotations

from functools import partial
from typing import BinaryIO, Protocol
from xml.etree.ElementTree import ParseError

import defusedxml.ElementTree
from defusedxml.common import DefusedXmlException

SPACE = "{http://www.w3.org/2000/svg}"
FAULTS = (ParseError, DefusedXmlException, LookupError, ValueError)
"""What comes of a file that is no XML, or has entities."""

_PART_BYTES = 1_000_000


class Taker(Protocol):
    """Takes what a file holds, in its order. Names have their namespace in braces before them."""

    def start(self, tag: str, attributes: dict[str, str], /) -> object:
        """An element starts."""

    def data(self, text: str, /) -> object:
        """Text, or a part of it."""

    def end(self, tag: str, /) -> object:
        """The element that started last, of those that have not ended, ends."""


def feed_elements(content: BinaryIO, taker: Taker) -> None:
    """Read a file from where it stands to its end.

    Raises
    ------
    FAULTS
        If the file is torn or no XML, or if it has entities; some has been taken by then.
    """
    parser = defusedxml.ElementTree.DefusedXMLParser(target=taker)
    for part in iter(partial(content.read, _PART_BYTES), b""):
        parser.feed(part)
    parser.close()
