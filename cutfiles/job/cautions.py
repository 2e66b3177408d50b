"""What must be said, and what must be refused, before anything is cut.

Sources: university and makerspace laser policies (PVC and anything with chlorine is refused:
corrosive, toxic fume; stay with the machine; extinguisher at hand); I. Vilumsone-Nemes,
"Industrial Cutting of Textile Materials", p. 95 (heat glues synthetic plies) and pp. 106-107
(guards and gloves at knives). The remaining refusals are common practice, no source.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from typing import Final, Literal

from cutfiles.errors import Finding
from cutfiles.job.job import Cloth, Job
from cutfiles.job.machine import MachineKind

_NEVER_ON_A_LASER: Final = (
    "pvc", "vinyl", "polyvinyl", "chlor", "saran", "modacryl", "neoprene", "coated", "coating",
    "laminat", "ptfe", "teflon", "fluor", "foil", "metal", "lurex", "leather", "oilcloth",
    "oilskin", "flame", "unknown", "waxed", "rubber", "plastisol", "glass", "carbon",
)  # fmt: skip
_SYNTHETIC: Final = (
    "polyester", "polycotton", "polyamide", "polypropylene", "polyethylene", "nylon", "acrylic",
    "elastane", "spandex", "lycra", "microfib", "fleece", "aramid", "ripstop",
)  # fmt: skip
_NATURAL: Final = (
    "cotton", "linen", "flax", "silk", "wool", "hemp", "ramie", "jute", "bamboo", "viscose",
    "rayon", "lyocell", "modal", "cupro",
)  # fmt: skip
_HARMLESS: Final = frozenset((
    "and", "or", "with", "of", "in", "per", "cent", "percent", "pure", "all", "plain", "fine",
    "light", "medium", "heavy", "weight", "blend", "blended", "mix", "mixed", "fibre", "fiber",
    "fibres", "fibers", "cloth", "fabric", "woven", "knit", "knitted", "quilting", "sheeting",
    "calico", "poplin", "muslin", "denim", "canvas", "twill", "lawn", "voile", "batiste",
    "percale", "broadcloth", "oxford", "chambray", "sateen", "satin", "flannel", "jersey",
    "gauze", "drill", "duck", "organic", "combed", "mercerised", "mercerized", "dyed",
    "bleached", "unbleached", "washed", "prewashed", "uncoated", "uncoloured", "undyed",
    "printed", "print", "white", "black", "blue", "green", "red", "yellow", "grey", "gray",
    "brown", "natural", "solid", "striped", "checked", "gsm", "g", "m",
))  # fmt: skip
"""Words that say nothing of what a laser must not meet. Any word that is neither one of these nor
a known fibre is a reason to refuse."""

_GENERAL: Final = (
    "These caps are not certified protective equipment and not a medical device: follow the "
    "attire and laundry policy of the place where they are worn.",
    "Cut and measure one cap before the whole order. Local rules and trained staff come first.",
)
_BY_KIND: Final[dict[MachineKind, tuple[str, ...]]] = {
    "laser": (
        "Never cut PVC, vinyl or anything with chlorine or an unknown coating on a laser: the "
        "fume is toxic and corrosive.",
        "Stay with the laser and watch it the whole time, extraction on, lid and interlocks as "
        "built, a carbon dioxide extinguisher at hand. Pause it before you leave.",
        "Stacked cloth smoulders between the plies: hold it flat, cut one test stack, watch for "
        "several minutes after the end, and let scraps cool before binning them.",
    ),
    "drag knife": (
        "Keep hands and cords clear of the moving head; stop the machine before you reach in.",
    ),
    "rotary blade": (
        "Guard down, a cut-resistant glove on the holding hand, cord clear of the blade. Close "
        "a hand-held rotary blade whenever it is put down, and cut away from the body.",
    ),
}


_MOVES: Final[dict[MachineKind, str]] = {
    "laser": "fire, fume, lids and interlocks",
    "drag knife": "hands, and what else is near the blade",
    "rotary blade": "hands, and what else is near the blade",
}
"""What motion code cannot see (common practice, no source)."""


def cautions_for(kind: MachineKind) -> tuple[str, ...]:
    """The cautions for a job sheet, for one kind of machine."""
    return _BY_KIND[kind] + _GENERAL


def check_safety(job: Job) -> tuple[Finding, ...]:
    """Refusals (errors) and warnings for the cloths of a job on its machine."""
    findings = [_motion_finding(job)] if job.machine.written.motion_code else []
    if job.machine.kind == "laser":
        for cloth in job.cloths:
            table = job.shelf.called(cloth.number) if job.shelf else f"[[cloth]] {cloth.number}"
            findings.extend(_laser_findings(cloth, f"{job.source}: {table}"))
    return tuple(findings)


def _motion_finding(job: Job) -> Finding:
    text = (
        f"{job.source}: [machine]: files.motion_code: moves the tool by itself, and knows nothing "
        f"of {_MOVES[job.machine.kind]}: run it first with the tool off and no cloth on the bed, "
        "with a hand at the stop; local rules and trained staff come first"
    )
    return Finding("motion-code", "warning", text)


def _laser_findings(cloth: Cloth, where: str) -> Iterator[Finding]:
    for field, value in (("fibre", cloth.fibre or ""), ("name", cloth.name)):
        barred = next((word for word in _words(value) if _kind(word) == "barred"), None)
        if barred:
            yield Finding(
                "laser-refused",
                "error",
                f"{where}: {field}: {value!r} is refused on a laser ({barred!r}: toxic or "
                "corrosive fume): use another cloth, or a knife or rotary blade",
            )
            return
    where = f"{where}: fibre"
    if cloth.fibre is None:
        yield Finding(
            "fibre-unknown",
            "warning",
            f"{where}: is not given for {cloth.name!r}: be sure that it is no PVC, vinyl or coated "
            "cloth before it goes under a laser, and name the fibre",
        )
        return
    words = _words(cloth.fibre)
    strange = [word for word in words if _kind(word) == "unknown"]
    synthetic = any(_kind(word) == "synthetic" for word in words)
    if strange or not any(_kind(word) in ("synthetic", "natural") for word in words):
        what = f"holds {strange[0]!r}, which is" if strange else "names"
        yield Finding(
            "laser-refused",
            "error",
            f"{where}: {cloth.fibre!r} {what} no fibre known here, so a laser is refused: say what "
            "it is made of (cotton, linen, polyester ...), or use a knife or rotary blade",
        )
    elif synthetic and cloth.layers > 1:
        yield Finding(
            "synthetic-plies",
            "warning",
            f"{where}: {cloth.fibre!r} in {cloth.layers} plies: heat can weld synthetic plies "
            "together at the edge: cut one ply at a time, or use a knife",
        )


def _words(text: str) -> list[str]:
    """The plain lower-case words of a text, without accents, dots and numbers."""
    plain = unicodedata.normalize("NFKD", text.lower()).replace(".", "")
    plain = "".join(c for c in plain if not unicodedata.combining(c))
    return re.findall(r"[^\W\d_]+", plain)


def _kind(word: str) -> Literal["barred", "synthetic", "natural", "harmless", "unknown"]:
    if word in _HARMLESS:
        return "harmless"
    if any(barred in word for barred in _NEVER_ON_A_LASER):
        return "barred"
    if word.startswith(_SYNTHETIC):
        return "synthetic"
    return "natural" if word.startswith(_NATURAL) else "unknown"
