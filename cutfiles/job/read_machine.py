"""From the keys of a machine, the job's own and those of a file, to a `Machine`."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import fields, replace
from typing import Any, Final, cast

from cutfiles.errors import Finding
from cutfiles.job.document import (
    NO_NOTCH,
    BedTable,
    ColoursTable,
    FilesTable,
    JobDocument,
    LayersTable,
    MachineKeys,
    NotchTable,
    TabsTable,
)
from cutfiles.job.machine import (
    DEFAULT_FITTINGS,
    DEFAULT_KERF_MM,
    NOTCH_WIDTH_MM,
    SLIT,
    DragKnife,
    FarEnd,
    Fittings,
    Labels,
    Machine,
    MachineKind,
    Marks,
    NotchCut,
    NotchShape,
    RotaryBlade,
    Setting,
    Tabs,
    Tool,
)
from cutfiles.job.written import (
    LINE_ROLES,
    MARK_ROLES,
    LineRole,
    PaperSize,
    Release,
    Written,
    layer_fault,
)
from cutfiles.tolerances import COINCIDENT_MM

_PACE_KEYS: Final[Mapping[str, str]] = {
    "cut_speed": "cut_mm_s",
    "travel_speed": "travel_mm_s",
    "acceleration": "acceleration_mm_s2",
    "start_time": "start_stroke_s",
    "mark_speed": "mark_mm_s",
}
TOOL_KEYS: Final[Mapping[MachineKind, Mapping[str, str]]] = {
    "laser": {"lead_in": "lead_in_mm", "overlap": "overlap_mm", "tabs": "tabs"},
    "drag knife": {
        "lead_in": "lead_in_mm",
        "blade_offset": "offset_mm",
        "overrun": "overrun_mm",
        "swing_from_deg": "swing_from_deg",
    },
    "rotary blade": {
        "blade_diameter": "diameter_mm",
        "bed_depth": "bed_depth_mm",
        "scrub": "scrub_mm",
    },
}
"""The keys of every kind's tool, and the field of the tool that each gives."""

_SHAPES: Final[Mapping[MachineKind, tuple[NotchShape, ...]]] = {
    "laser": ("slit", "V", "T", "castle", "check", "U"),
    # it cannot turn back in the bar of a T, nor follow the small arc of a U
    "drag knife": ("slit", "V", "castle", "check"),
    # with a tool of its own for them
    "rotary blade": ("slit", "V", "T", "castle", "check", "U"),
}


def usual_keys(kind: MachineKind) -> dict[str, str]:
    """What holds for a kind of machine where nobody says otherwise, by key, as it would be
    written."""
    fittings = DEFAULT_FITTINGS[kind]
    units = {"_mm": "mm", "_mm_s": "mm/s", "_mm_s2": "mm/s2", "_s": "s", "_deg": ""}
    usual = {"kerf": f"{DEFAULT_KERF_MM[kind]:g} mm", "marks": fittings.marks}
    usual["notch.shape"] = fittings.notch.shape if fittings.notch else NO_NOTCH
    for keys, owner in ((TOOL_KEYS[kind], fittings.tool), (_PACE_KEYS, fittings.pace)):
        for key, field in keys.items():
            value = getattr(owner, field)
            if value is not None:
                ending = max((end for end in units if field.endswith(end)), key=len)
                usual[key] = f"{value:g} {units[ending]}".rstrip()
    return usual


class GivenMachine:
    """What is said of a machine: by the job, and by the file that it names, if it does.

    The job's keys override the file's, each as a whole. ``where`` of a key is the place to
    name in a finding.
    """

    def __init__(self, source: str, own: MachineKeys, file: tuple[str, MachineKeys] | None) -> None:
        self._places = [(f"{source}: [machine]", own)]
        if file:
            self._places.append(file)

    def where(self, key: str) -> str:
        """The place and name of a key; the job's own table where nobody gives it."""
        for place, keys in self._places:
            if key in keys.model_fields_set:
                return f"{place}: {key}"
        return f"{self._places[0][0]}: {key}"

    def value(self, key: str) -> Any:
        """What is given; None where nothing is."""
        for _, keys in self._places:
            if key in keys.model_fields_set:
                return getattr(keys, key)
        return None

    def findings(self) -> Iterator[Finding]:
        """What no single key can know."""
        kind = cast(MachineKind | None, self.value("kind"))
        if kind is None:
            text = f"{self.where('kind')}: is missing: add it, here or in the machine's file"
            yield Finding("missing-key", "error", text)
            return
        for other, keys in TOOL_KEYS.items():
            for key in keys:
                if self.value(key) is not None and key not in TOOL_KEYS[kind]:
                    yield self._wrong(
                        key, f'goes with kind = "{other}", not "{kind}": leave it out'
                    )
        bed = cast(BedTable | None, self.value("bed"))
        if bed is not None and bed.advance and bed.along is None:
            yield self._wrong(
                "bed",
                "advance is true, and the bed has no length to move the cloth on by: give along, "
                "or leave advance out",
            )
        files = cast(FilesTable | None, self.value("files"))
        if bed is not None and bed.advance and files is not None and files.motion_code:
            yield self._wrong(
                "files",
                "motion_code is true, and knows nothing of a bed that moves the cloth on: leave it "
                "out, or advance of the bed",
            )
        yield from self._notch_findings(kind)
        yield from self._layer_findings()
        if kind != "laser" and self.value("marks") == "light pass":
            yield self._wrong(
                "marks", f'\'light pass\': only a laser marks so: give "pen" or "none" for a {kind}'
            )
        yield from self._tool_findings(self._tool(kind))

    def _tool_findings(self, tool: Tool) -> Iterator[Finding]:
        """Measures of a tool that do not go together, given or usual."""
        if isinstance(tool, DragKnife) and 0.0 < tool.lead_in_mm < 2.0 * tool.offset_mm:
            text = f"{tool.lead_in_mm:g} mm is too short to turn a blade of {tool.offset_mm:g} mm "
            text += f"offset: give at least {2.0 * tool.offset_mm:g} mm"
            yield self._wrong("lead_in", text)
        # with the highest stack on top, its axle is just above (derived)
        if isinstance(tool, RotaryBlade) and tool.bed_depth_mm > tool.most_stack_mm:
            text = f"{tool.bed_depth_mm:g} mm is more than a quarter of the blade's "
            text += f"{tool.diameter_mm:g} mm: give less, or a larger blade"
            yield self._wrong("bed_depth", text)

    def _notch_findings(self, kind: MachineKind) -> Iterator[Finding]:
        notch = cast(NotchTable | None, self.value("notch"))
        if notch is None or notch.shape == NO_NOTCH:
            return
        if notch.shape not in _SHAPES[kind]:
            can = ", ".join(f'"{shape}"' for shape in _SHAPES[kind])
            yield self._wrong("notch", f"shape: {notch.shape!r}: a {kind} cannot cut it: use {can}")
        if notch.shape == "slit" and notch.width is not None:
            yield self._wrong("notch", "width: a slit has none: leave it out")

    def _layer_findings(self) -> Iterator[Finding]:
        """Every role has a layer that a drawing may have, and no other role the same one."""
        written = _written(self.value("files"))
        given = dict(written.layers)
        owner: dict[str, str] = {}
        for role, name in sorted(written.layer_names.items(), key=lambda item: item[0] in given):
            where = f"{self.where('files')}.layers.{role}"
            fault = layer_fault(name, written.release)
            if fault:
                yield Finding("bad-value", "error", f"{where}: {name!r} {fault}")
            other = owner.setdefault(name.casefold(), role)
            if other != role:
                text = (
                    f"{where}: {name!r} is the layer of {other}, too (capitals do not count): "
                    "give each role its own"
                )
                yield Finding("bad-value", "error", text)

    def stack_findings(self, document: JobDocument, source: str) -> Iterator[Finding]:
        """Whether the machine cuts through all the layers of every cloth; call it only where
        `findings` gives no error."""
        made = self.machine()
        most = [("most_stack", made.fittings.most_stack_mm, "as it says")]
        if isinstance(made.tool, RotaryBlade):
            what = f"a quarter of the blade's {made.tool.diameter_mm:g} mm"
            most.append(("blade_diameter", made.tool.most_stack_mm, what))
        for number, cloth in enumerate(document.cloth, 1):
            layers = 2 * cloth.plies if cloth.spread == "folded" else cloth.plies
            where = f"{source}: [[cloth]] {number}: plies: {layers} layers"
            plies = made.fittings.most_plies
            if plies is not None and layers > plies:
                text = f"{where} are more than the {plies} that the machine cuts at once"
                mend = f"spread fewer, or raise {self.where('most_plies')}"
                yield Finding("too-many-plies", "error", f"{text}: {mend}")
            stack = layers * cloth.thickness
            for key, limit, what in most:
                if limit is None or stack <= limit + COINCIDENT_MM:
                    continue
                fit = int((limit + COINCIDENT_MM) / cloth.thickness)
                text = (
                    f"{where} of {cloth.thickness:g} mm are {stack:g} mm high, and the machine "
                    f"cuts at most {limit:g} mm ({what}; {self.where(key)}): spread "
                    + (f"at most {fit} layers" if fit else "thinner cloth, or use another tool")
                )
                yield Finding("too-high-stack", "error", text)

    def _wrong(self, key: str, text: str) -> Finding:
        return Finding("bad-value", "error", f"{self.where(key)}: {text}")

    def machine(self) -> Machine:
        """The machine; call it only where `findings` gives no error."""
        kind = cast(MachineKind, self.value("kind"))
        kerf, bed = self.value("kerf"), cast(BedTable | None, self.value("bed")) or BedTable()
        return Machine(
            kind,
            DEFAULT_KERF_MM[kind] if kerf is None else kerf,
            bed.along,
            bed.across,
            self._fittings(kind),
            _written(self.value("files")),
            cast(Labels, self.value("labels") or "drawn"),
            advances=bed.advance,
            far_end=cast(FarEnd | None, self.value("far_end")),
        )

    def _fittings(self, kind: MachineKind) -> Fittings | None:
        """None where nothing differs from those of its kind."""
        usual = DEFAULT_FITTINGS[kind]
        own = replace(
            usual,
            tool=self._tool(kind),
            pace=replace(usual.pace, **self._given(_PACE_KEYS)),
            notch=self._notch(usual.notch),
            marks=cast(Marks, self.value("marks") or usual.marks),
            most_plies=self.value("most_plies"),
            most_stack_mm=self.value("most_stack"),
            settings=tuple(Setting(s.plies, s.note) for s in self.value("settings") or ()),
        )
        return None if own == usual else own

    def _given(self, keys: Mapping[str, str]) -> dict[str, Any]:
        values = {name: self.value(key) for key, name in keys.items()}
        return {name: value for name, value in values.items() if value is not None}

    def _tool(self, kind: MachineKind) -> Tool:
        usual = DEFAULT_FITTINGS[kind].tool
        given = self._given(TOOL_KEYS[kind])
        if isinstance(tabs := given.get("tabs"), TabsTable):
            given["tabs"] = Tabs(tabs.count, tabs.width)
        assert set(given) <= {field.name for field in fields(usual)}
        return replace(usual, **given)

    def _notch(self, usual: NotchCut | None) -> NotchCut | None:
        given = cast(NotchTable | None, self.value("notch"))
        if given is None:
            return usual
        if given.shape == NO_NOTCH:
            return None
        if given.shape == "slit":
            return SLIT
        return NotchCut(cast(NotchShape, given.shape), given.width or NOTCH_WIDTH_MM)


def _written(given: FilesTable | None) -> Written:
    table = given or FilesTable()
    return Written(
        release=cast(Release, table.dxf),
        layers=_by_role(table.layers),
        colours=_by_role(table.colours),
        apart=tuple(role for role in MARK_ROLES if role in table.apart),
        tool_path=table.tool_path,
        motion_code=table.motion_code,
        paper=cast(PaperSize | None, table.paper),
    )


def _by_role(table: LayersTable | ColoursTable) -> tuple[tuple[LineRole, str], ...]:
    """What a table gives, in the order of `LINE_ROLES`."""
    given = ((role, getattr(table, role)) for role in LINE_ROLES)
    return tuple((role, value) for role, value in given if value is not None)
