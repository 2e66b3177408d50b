"""The style of SVG elements: what is shown, how it is filled and clipped, by the cascade of CSS.

A declaration counts by where it stands (CSS Cascading 4, chapter 6): presentation attributes least,
then the rules of ``<style>`` by importance, specificity and order, then the ``style`` attribute.
Selectors of types, classes and ids are read, alone or joined, in lists, and within (``g path``) or
as children of (``g > path``) others; other rules, if they set a property of these, are counted as
unread.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, Final
from xml.etree import ElementTree

import tinycss2

INHERITED: Final = (
    "visibility", "fill", "fill-opacity", "fill-rule", "clip-rule", "stroke", "stroke-opacity",
    "stroke-width",
)  # fmt: skip
"""Properties that children take over."""

GEOMETRY: Final = ("x", "y", "width", "height", "cx", "cy", "r", "rx", "ry")
"""Attributes that style may set too (SVG 2, chapter 7.2)."""

_OWN: Final = (
    "display", "opacity", "overflow", "clip-path", "mask", "marker-start", "marker-mid",
    "marker-end", "transform", "transform-origin", "d",
)  # fmt: skip
_READ: Final = frozenset((*INHERITED, *GEOMETRY, *_OWN))
_NEVER: Final = frozenset({"hover", "focus", "active", "visited", "target"})
"""Pseudo-classes of a page that somebody is using; a drawing lies still."""

_IDENT: Final = r"-?[A-Za-z_\u0080-\uffff][\w\-\u0080-\uffff]*"
_COMPOUND: Final = re.compile(rf"(\*|{_IDENT}|)((?:[#.:]{_IDENT})*)")
_MARKED: Final = re.compile(rf"([#.:])({_IDENT})")

Style = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class _Compound:
    """What one element must be: its type, id, classes. ``child`` is whether it must be the direct
    child of what stands before it."""

    kind: str = ""
    ids: tuple[str, ...] = ()
    classes: tuple[str, ...] = ()
    is_root: bool = False
    child: bool = False

    @property
    def key(self) -> str:
        """A word that every element it fits is filed under."""
        if self.ids:
            return f"#{self.ids[0]}"
        return f".{self.classes[0]}" if self.classes else self.kind or "*"


@dataclass(frozen=True, slots=True)
class _Rule:
    """A selector, its weight, and what it says: property, value, whether it is important."""

    selector: tuple[_Compound, ...]
    weight: tuple[int, int, int, int]
    said: tuple[tuple[str, str, bool], ...]


@dataclass(slots=True)
class StyleSheets:
    """All ``<style>`` elements of a drawing; ``unread`` counts what in them is not understood."""

    root: ElementTree.Element
    unread: Counter[str]
    _rules: dict[str, list[_Rule]] = field(default_factory=dict)
    _parents: dict[ElementTree.Element, ElementTree.Element] = field(default_factory=dict)
    _fitting: dict[tuple[ElementTree.Element, tuple[_Compound, ...]], bool] = field(
        default_factory=dict
    )
    _known: dict[ElementTree.Element, Style] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._parents = {child: parent for parent in self.root.iter() for child in parent}
        count = 0
        for element in self.root.iter():
            kind = element.get("type", "text/css").strip()
            if _plain(element) == "style" and kind in ("", "text/css"):
                for rule in self._rules_of("".join(element.itertext()), count):
                    count += 1
                    self._rules.setdefault(rule.selector[-1].key, []).append(rule)

    def own(self, element: ElementTree.Element) -> Style:
        """What is declared for an element itself."""
        if element not in self._known:
            self._known[element] = self._cascaded(element)
        return self._known[element]

    def _cascaded(self, element: ElementTree.Element) -> Style:
        said = {key: value.strip() for key, value in element.items() if key in _READ}
        keys = [
            f"#{element.get('id', '')}", *(f".{name}" for name in element.get("class", "").split()),
            _plain(element), "*",
        ]  # fmt: skip
        fitting = [
            rule
            for key in dict.fromkeys(keys)
            for rule in self._rules.get(key, ())
            if self._fits(element, rule.selector)
        ]
        fitting.sort(key=lambda rule: rule.weight)
        here = tuple(_declared(tinycss2.parse_blocks_contents(element.get("style", ""))))
        for important in (False, True):
            for declared in (*(rule.said for rule in fitting), here):
                said |= {name: text for name, text, is_so in declared if is_so is important}
        return said

    def _fits(self, element: ElementTree.Element, selector: tuple[_Compound, ...]) -> bool:
        key = (element, selector)
        if key not in self._fitting:
            self._fitting[key] = self._found_to_fit(element, selector)
        return self._fitting[key]

    def _found_to_fit(self, element: ElementTree.Element, selector: tuple[_Compound, ...]) -> bool:
        last, before = selector[-1], selector[:-1]
        classes = element.get("class", "").split()
        if (
            (last.kind and last.kind != _plain(element))
            or any(name != element.get("id") for name in last.ids)
            or not set(last.classes) <= set(classes)
            or (last.is_root and element is not self.root)
        ):
            return False
        parent = self._parents.get(element)
        while before and parent is not None:
            if self._fits(parent, before):
                return True
            parent = None if last.child else self._parents.get(parent)
        return not before

    def _rules_of(self, text: str, count: int) -> Iterator[_Rule]:
        for node in tinycss2.parse_stylesheet(text, skip_comments=True, skip_whitespace=True):
            if node.type == "at-rule":
                if node.lower_at_keyword in ("import", "media", "supports", "layer"):
                    self.unread[f"a <style> with @{node.lower_at_keyword}"] += 1
                continue
            if node.type != "qualified-rule":
                self.unread["a <style> that is no CSS"] += 1
                continue
            said = tuple(_declared(tinycss2.parse_blocks_contents(node.content)))
            for tokens in _lists(node.prelude) if said else ():
                selector = _selector(tokens)
                if selector is None:
                    words = tinycss2.serialize(tokens).strip()[:40]
                    self.unread[f"a <style> rule for {words!r}"] += 1
                elif selector:
                    count += 1
                    yield _Rule(selector, (*_specificity(selector), count), said)


def visible(style: Style) -> bool:
    """Whether a shape is painted at all: filled or drawn round. A fill is black where nothing is
    said, a stroke none."""
    filled = style.get("fill", "black") not in ("none", "transparent")
    stroked = style.get("stroke", "none") not in ("none", "transparent")
    return (filled and not is_zero(style.get("fill-opacity", "1"))) or (
        stroked
        and not is_zero(style.get("stroke-opacity", "1"))
        and not is_zero(style.get("stroke-width", "1"))
    )


def is_filled(style: Style) -> bool:
    """Whether a shape is painted inside."""
    filled = style.get("fill", "black") not in ("none", "transparent")
    return filled and not is_zero(style.get("fill-opacity", "1"))


def is_zero(text: str) -> bool:
    """Whether an opacity or a width is 0."""
    try:
        return float(text.rstrip("%pxcmintqPXCMINTQ ")) == 0.0
    except ValueError:
        return False


def _plain(element: ElementTree.Element) -> str:
    return element.tag.rpartition("}")[2] if isinstance(element.tag, str) else ""


def _declared(nodes: Iterable[Any]) -> Iterator[tuple[str, str, bool]]:
    """The properties among declarations that matter here."""
    for node in nodes:
        if node.type == "declaration" and node.lower_name in _READ:
            yield node.lower_name, tinycss2.serialize(node.value).strip(), bool(node.important)


def _lists(tokens: Iterable[Any]) -> list[list[Any]]:
    """Selectors between commas."""
    lists: list[list[Any]] = [[]]
    for token in tokens:
        if token.type == "literal" and token.value == ",":
            lists.append([])
        else:
            lists[-1].append(token)
    return lists


def _selector(tokens: list[Any]) -> tuple[_Compound, ...] | None:
    """One selector, outermost element first; empty where it fits nothing that lies still, None
    where it is not understood."""
    text = tinycss2.serialize([t for t in tokens if t.type != "comment"]).strip()
    compounds = []
    never = False
    joint = ""
    for number, word in enumerate(re.split(r"(\s*>\s*|\s+)", text)):
        if number % 2:
            joint = word.strip()
            continue
        match = _COMPOUND.fullmatch(word)
        if not word or match is None:
            return None
        marked = [(mark, name) for mark, name in _MARKED.findall(match[2])]
        states = {name for mark, name in marked if mark == ":"}
        if states - _NEVER - {"root"}:
            return None
        never = never or bool(states & _NEVER)
        ids, classes = (tuple(n for mark, n in marked if mark == which) for which in "#.")
        compounds.append(
            _Compound(match[1].strip("*"), ids, classes, "root" in states, joint == ">")
        )
    return () if never else tuple(compounds)


def _specificity(selector: tuple[_Compound, ...]) -> tuple[int, int, int]:
    """Ids, then classes, then types (Selectors 4, chapter 17)."""
    return (
        sum(len(part.ids) for part in selector),
        sum(len(part.classes) + part.is_root for part in selector),
        sum(bool(part.kind) for part in selector),
    )
