"""What must be said, and what must be refused, before anything is cut.

Sources: university and makerspace laser policies (PVC and anything with chlorine is refused:
corrosive, toxic fume; stay with the machine; extinguisher at hand); I. Vilumsone-Nemes,
"Industrial Cutting of Textile Materials", p. 95 (heat glues synthetic plies) and pp. 106-107
(guards and gloves at knives). The remaining refusals are common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final

from cutfiles.errors import Finding
from cutfiles.job.job import Cloth, Job, MachineKind

_NEVER_ON_A_LASER: Final = (
    "pvc", "vinyl", "polyvinyl", "chlor", "saran", "modacrylic", "neoprene", "coated", "coating",
    "laminat", "ptfe", "teflon", "fluor", "foil", "metal", "lurex", "leatherette", "oilcloth",
    "flame", "unknown", "waxed", "rubber",
)  # fmt: skip
_SYNTHETIC: Final = (
    "poly", "nylon", "acryl", "elastan", "spandex", "lycra", "microfib", "fleece", "synthetic",
    "aramid",
)  # fmt: skip
_NATURAL: Final = (
    "cotton", "linen", "flax", "silk", "wool", "hemp", "ramie", "jute", "bamboo", "viscose",
    "rayon", "lyocell", "modal", "cupro", "calico", "poplin", "muslin", "denim", "canvas",
)  # fmt: skip

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


def cautions_for(kind: MachineKind) -> tuple[str, ...]:
    """The cautions for a job sheet, for one kind of machine."""
    return _BY_KIND[kind] + _GENERAL


def check_safety(job: Job) -> tuple[Finding, ...]:
    """Refusals (errors) and warnings for the cloths of a job on its machine."""
    if job.machine.kind != "laser":
        return ()
    return tuple(
        finding
        for number, cloth in enumerate(job.cloths, 1)
        for finding in _laser_findings(cloth, f"{job.source}: [[cloth]] {number}: fibre")
    )


def _laser_findings(cloth: Cloth, where: str) -> Iterator[Finding]:
    if cloth.fibre is None:
        yield Finding(
            "fibre-unknown",
            "warning",
            f"{where}: is not given for {cloth.name!r}: be sure that it is no PVC, vinyl or coated "
            "cloth before it goes under a laser, and name the fibre",
        )
        return
    fibre = cloth.fibre.lower()
    # "uncoated" is the one harmless word that holds a forbidden one
    barred = [word for word in _NEVER_ON_A_LASER if word in fibre.replace("uncoated", "")]
    if barred:
        yield Finding(
            "laser-refused",
            "error",
            f"{where}: {cloth.fibre!r} is refused on a laser ({barred[0]!r} may give off toxic or "
            "corrosive fume): use another cloth, or a knife or rotary blade",
        )
        return
    words = re.findall(r"[a-z]+", fibre)
    synthetic = any(word.startswith(_SYNTHETIC) for word in words)
    if not synthetic and not any(word.startswith(_NATURAL) for word in words):
        yield Finding(
            "laser-refused",
            "error",
            f"{where}: {cloth.fibre!r} names no fibre known here, so a laser is refused: name the "
            "fibre (cotton, linen, polyester ...), or use a knife or rotary blade",
        )
    elif synthetic and cloth.plies > 1:
        yield Finding(
            "synthetic-plies",
            "warning",
            f"{where}: {cloth.fibre!r} in {cloth.plies} plies: heat can weld synthetic plies "
            "together at the edge: cut one ply at a time, or use a knife",
        )
