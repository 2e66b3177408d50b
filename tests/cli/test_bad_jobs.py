"""Jobs that are wrong: every finding at once, exit status 2, and nothing written."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.program import WriteJob, cutfiles, names
from tests.conftest import LASER, ONE_CAP, ONE_CLOTH, SMALL_JOB

CLOTH_AND_MACHINE = ONE_CLOTH + LASER
CAPS_AND_MACHINE = ONE_CAP + LASER
CLOTH_AND_CAPS = ONE_CLOTH + ONE_CAP

PIN = '[[pinned]]\npiece = "cap-001-crown"\nat = [300, 300]\n'


def with_cloth(lines: str) -> str:
    return f'[[cloth]]\nname = "kelp"\nfibre = "cotton"\n{lines}\n' + CAPS_AND_MACHINE


def with_caps(lines: str) -> str:
    return CLOTH_AND_MACHINE + f"[[caps]]\n{lines}\n"


CAP_M = 'style = "tie-back"\nsize = "M"\nquantity = 1\n'

BAD_JOBS = [
    ("not TOML", "width = = 3", "not a TOML file"),
    ("unknown key", with_cloth("width = 1100\nlenght = 900"), "did you mean 'length'?"),
    ("unknown table", SMALL_JOB + "[machin]\n", "did you mean 'machine'?"),
    ("missing key", with_cloth(""), "[[cloth]] 1: width: is missing"),
    ("no machine", CLOTH_AND_CAPS, "machine: is missing"),
    ("price", with_cloth("width = 1100\nprice = -4"), "price: -4 must be 0 to 1000000"),
    ("costs", SMALL_JOB + '[costs]\ncurrency = "EUR"\nthread = -0.1', "[costs]: thread: -0.1 must"),
    ("no currency", SMALL_JOB + "[costs]\nthread = 1", "[costs]: currency: is missing"),
    ("no caps", CLOTH_AND_MACHINE, "caps: is missing"),
    ("negative", with_cloth("width = -3"), "must be more than 0 and at most 5000 mm"),
    ("no such pieces", with_caps(CAP_M + 'pieces = ["crwn"]'), "pieces: 'crwn' is no piece of"),
    (
        "a match that is not cut",
        with_caps(CAP_M + 'pieces = ["band"]\nmatch = ["crown"]'),
        "match: 'crown' is not cut, since pieces does not name it",
    ),
    ("zero", with_cloth("width = 0"), "must be more than 0 and at most 5000 mm"),
    ("not a number", with_cloth("width = nan"), "nan is not a finite length"),
    ("infinite", with_cloth("width = inf"), "inf is not a finite length"),
    ("absurd", with_cloth('width = "900 yd"'), "at most 5000 mm"),
    ("no such unit", with_cloth('width = "3 furlongs"'), "no unit known here"),
    ("selvedge", with_cloth("width = 100\nselvedge = 60"), "less than half the width"),
    ("plies", with_cloth("width = 1100\nplies = 0"), "plies: 0 must be 1 to 200"),
    ("shrinkage", with_cloth("width = 1100\nshrinkage_percent = { along = 99 }"), "-5 to 25"),
    ("too wide", with_cloth("width = 400"), "the band is"),
    ("too short", with_cloth("width = 1100\nlength = 250"), "the tie is 305 mm long"),
    ("one cap too long", with_cloth("width = 600\nlength = 310"), "the pieces of one cap"),
    ("small bed", SMALL_JOB + "bed = { along = 900, across = 90 }", "the machine's bed"),
    (
        "a bed that moves nothing on",
        SMALL_JOB + "bed = { across = 900, advance = true }",
        "bed: advance is true, and the bed has no length to move the cloth on by: give along",
    ),
    (
        "motion code for a bed that moves on",
        SMALL_JOB + "bed = { along = 900, advance = true }\nfiles = { motion_code = true }",
        "files: motion_code is true, and knows nothing of a bed that moves the cloth on",
    ),
    (
        "a piece longer than a frame",
        SMALL_JOB + "bed = { along = 250, advance = true }",
        "the machine's bed leaves 250 mm",
    ),
    ("labels", SMALL_JOB + 'labels = "printed"', 'must be one of "drawn", "text", "none"'),
    (
        "shared edges",
        SMALL_JOB + 'shared_edges = "yes"',
        "shared_edges: 'yes': must be true or false",
    ),
    ("far end", SMALL_JOB + 'far_end = "frist"', 'must be one of "first", "last"'),
    ("files", SMALL_JOB + "files = { motion_cod = true }", "files.motion_cod: is no key of a job"),
    ("paper", SMALL_JOB + 'files = { paper = "A3" }', 'must be one of "A4", "Letter"'),
    ("dxf", SMALL_JOB + 'files = { dxf = "R13" }', 'must be one of "R2000", "R12"'),
    ("apart", SMALL_JOB + 'files = { apart = ["notch"] }', "files.apart 1: 'notch' must be one of"),
    ("role", SMALL_JOB + 'files.layers = { outlin = "a" }', "did you mean 'outline'?"),
    ("layer", SMALL_JOB + 'files.layers = { outline = "a*b" }', "holds what no layer of a DXF"),
    ("layer", SMALL_JOB + 'files.layers = { outline = "0" }', "keep for themselves"),
    (
        "same layer",
        SMALL_JOB + 'files.layers = { outline = "CUT-OUTS" }',
        "files.layers.outline: 'CUT-OUTS' is the layer of inner, too",
    ),
    (
        "old layer",
        SMALL_JOB + 'files = { dxf = "R12", layers = { outline = "CUT 1" } }',
        "holds what no layer of a DXF R12",
    ),
    ("colour", SMALL_JOB + 'files.colours = { outline = "red" }', 'as "#rrggbb"'),
    ("files", SMALL_JOB + "files = { motion_code = 1 }", "motion_code: 1: must be true or false"),
    ("kerf", SMALL_JOB.replace("kerf = 0.2", "kerf = 3.0"), "as wide as the notch"),
    ("kerf absurd", SMALL_JOB.replace("kerf = 0.2", "kerf = 300"), "at most 20 mm"),
    ("no caps wanted", with_caps('style = "tie-back"\nsize = "M"\nquantity = 0'), "1 to 20000"),
    (
        "a billion",
        with_caps('style = "tie-back"\nsize = "M"\nquantity = 1000000000'),
        "1000000000 must be 1 to 20000",
    ),
    ("size", with_caps('style = "tie-back"\nsize = "XXL"\nquantity = 1'), 'one of "C1"'),
    ("style", with_caps('style = "tieback"\nsize = "M"\nquantity = 1'), 'did you mean "tie-back"?'),
    ("no size", with_caps('style = "tie-back"\nquantity = 1'), "none is given"),
    (
        "two sizes",
        with_caps('style = "tie-back"\nsize = "M"\nhead_girth = 570\nquantity = 1'),
        "size and head_girth are given",
    ),
    (
        "girth",
        with_caps('style = "tie-back"\nhead_girth = "57 mm"\nquantity = 1'),
        "must be more than 440 and at most 660 mm",
    ),
    (
        "wearers and quantity",
        with_caps('style = "tie-back"\nwearers = 9\nquantity = 9'),
        "wearers says how many",
    ),
    (
        "women alone",
        with_caps('style = "tie-back"\nsize = "M"\nquantity = 9\nwomen = 0.7'),
        "goes with wearers only",
    ),
    (
        "too many women",
        with_caps('style = "tie-back"\nwearers = 9\nwomen = 70'),
        "women: 70 must be 0 to 1",
    ),
    (
        "measure",
        with_caps(
            'style = "tie-back"\nsize = "M"\nquantity = 9\nmeasures = { front_height = 900 }'
        ),
        "[[caps]] 1: measures.front_height: 900 must be 90 to 220 mm",
    ),
    (
        "unsewable",
        with_caps('style = "tie-back"\nsize = "M"\nquantity = 9\nmeasures = { snug = 0 }'),
        "the open edge goes round heads of",
    ),
    (
        "bias hem",
        with_caps('style = "tie-back"\nsize = "M"\nquantity = 9\nbinding_grain = "bias"'),
        'goes with edge = "binding" only',
    ),
    ("no quantity", with_caps('style = "tie-back"\nsize = "M"'), "quantity: is missing"),
    (
        "no such cloth",
        with_caps('style = "tie-back"\nsize = "M"\nquantity = 1\ncloth = "kelp print"'),
        "did you mean 'kelp-print cotton'?",
    ),
    ("same name", ONE_CLOTH + SMALL_JOB, "is used twice"),
    ("huge", with_cloth("width = 1" + "0" * 400), "is not a finite length"),
    ("digits", with_cloth("width = " + "9" * 5001), "not a TOML file"),
    ("nested", "a = " + "[" * 20000, "nested without end"),
    ("control character", 'title = "a\\u0001b"\n' + SMALL_JOB, "control characters"),
    ("blank name", SMALL_JOB.replace("kelp-print cotton", "  "), "must not be empty"),
    (
        "piece",
        with_caps('style = "tie-back"\nsize = "M"\nquantity = 1\ngrain = { crwn = "either" }'),
        "[[caps]] 1: grain or tilt: 'crwn' is no piece of tie-back M; did you mean 'crown'?",
    ),
    (
        "grain",
        with_caps('style = "tie-back"\nsize = "M"\nquantity = 1\ngrain = { crown = "acros" }'),
        'grain.crown: \'acros\' must be one of "along", "across", "either", "bias" '
        '(did you mean "across"?)',
    ),
    (
        "tilt",
        with_caps('style = "tie-back"\nsize = "M"\nquantity = 1\ntilt = { tie = 5 }'),
        "tilt.tie: 5 must be 0 to 3: small parts bear 1 to 2 degrees",
    ),
    (
        "binding grain",
        with_caps(
            'style = "tie-back"\nsize = "M"\nquantity = 1\nedge = "binding"\n'
            'grain = { binding = "bias" }'
        ),
        "grain.binding: leave it out: binding_grain says",
    ),
    ("spread", with_cloth('width = 1100\nspread = "fold"'), 'did you mean "folded"?'),
    (
        "odd plies face to face",
        with_cloth('width = 1100\nplies = 3\nspread = "face to face"'),
        "plies: 3: cloth laid face to face has an even number of plies: give 4",
    ),
    (
        "flaws under plies",
        with_cloth("width = 1100\nplies = 2\nflaws = [{ at = [10, 10], size = [5, 5] }]"),
        "where a flaw lies in the lower ones is not known: give plies = 1",
    ),
    (
        "flaw off the cloth",
        with_cloth("width = 1100\nflaws = [{ at = [10, 1098], size = [5, 5] }]"),
        "flaws 1: at: the flaw lies from 1098 to 1103 mm across, and the cloth from 0 to 1100 mm",
    ),
    (
        "flaw beyond the end",
        with_cloth('width = 1100\nlength = 900\nflaws = [{ at = [899, 50], diameter = "4 mm" }]'),
        "from 897 to 901 mm along",
    ),
    (
        "flaw of no size",
        with_cloth("width = 1100\nflaws = [{ at = [10, 10] }]"),
        "flaws 1: give one of size and diameter",
    ),
    (
        "flaw nowhere",
        with_cloth("width = 1100\nflaws = [{ at = 10, size = [5, 5] }]"),
        "flaws 1: at: 10 must be two lengths, [along, across]",
    ),
    (
        "flaw key",
        with_cloth("width = 1100\nflaws = [{ at = [10, 10], sise = [5, 5] }]"),
        "did you mean 'size'?",
    ),
    (
        "match without a print",
        with_caps('style = "tie-back"\nsize = "M"\nquantity = 1\nmatch = "crown"'),
        "match: cloth 'kelp-print cotton' has no print_repeat",
    ),
    (
        "match of no piece",
        with_cloth("width = 1100\nprint_repeat = { along = 90 }").replace(
            "quantity = 1", 'quantity = 1\nmatch = ["crown", "bnad"]'
        ),
        "match: 'bnad' is no piece of tie-back M; did you mean 'band'?",
    ),
    (
        "match on the fold",
        with_cloth('width = 1500\nspread = "folded"\nprint_repeat = { along = 90 }').replace(
            "quantity = 1", 'quantity = 1\nmatch = "crown"'
        ),
        'the print of the layers that lie face down is mirrored: give spread = "single"',
    ),
    (
        "wide repeat",
        with_cloth("width = 1100\nprint_repeat = { across = 2300 }"),
        "print_repeat.across: 2300 mm is more than the 1100 mm between the selvedges",
    ),
    (
        "long repeat",
        with_cloth("width = 1100\nlength = 600\nprint_repeat = { along = 640 }"),
        "print_repeat.along: 640 mm is more than the 600 mm of cloth in a ply",
    ),
    (
        "print starts beyond a repeat",
        with_cloth("width = 1100\nprint_repeat = { along = 90 }\nprint_starts = { along = 100 }"),
        "print_starts.along: 100 mm must be less than one repeat of 90 mm: where the first whole "
        "one begins: give 10 mm",
    ),
    (
        "print starts without a print",
        with_cloth("width = 1100\nprint_repeat = { along = 90 }\nprint_starts = { across = 0 }"),
        "print_starts.across: 0 mm: the print has no print_repeat.across: give the repeat",
    ),
    (
        "flaw too thin to draw",
        with_cloth("width = 1100\nflaws = [{ at = [10, 10], size = [0.0001, 40] }]"),
        "flaws 1: the flaw is 0.0001 mm wide, and less than 0.001 mm cannot be drawn",
    ),
    (
        "pinned piece that is none",
        SMALL_JOB + PIN.replace("cap-001-crown", "cap-1-crown"),
        "[[pinned]] 1: piece: 'cap-1-crown' is no piece of this order, as a summary gives them by "
        "id; did you mean 'cap-001-crown'?",
    ),
    ("pinned off the cloth", SMALL_JOB + PIN.replace("300, 300", "300, -40"), "mm up"),
    (
        "pinned against the grain",
        SMALL_JOB + PIN + "turn_deg = 45\n",
        "[[pinned]] 1: turn_deg: 45: cap-001-crown then lies against its grain",
    ),
    (
        "pinned twice",
        SMALL_JOB + PIN + PIN,
        "[[pinned]] 2: piece: 'cap-001-crown' is pinned by [[pinned]] 1 before",
    ),
    (
        "pinned in another lay",
        SMALL_JOB + PIN + "lay = 2\n",
        "[[pinned]] 1: lay: 2: a cloth with pinned pieces makes one lay",
    ),
    ("pinned nowhere", SMALL_JOB + PIN.replace("[300, 300]", "300"), "300 must be two lengths"),
    ("pinned key", SMALL_JOB + PIN + "turn = 0\n", "did you mean 'turn_deg'?"),
    (
        "pinned on a flaw",
        with_cloth("width = 1100\nflaws = [{ at = [300, 300], size = [5, 5] }]") + PIN,
        "cap-001-crown is cut 0.00 mm from the flaw at (300.0, 300.0) mm of the lay",
    ),
    (
        "as many of endless cloth",
        SMALL_JOB.replace("quantity = 1", 'quantity = "as many as fit"'),
        "cloth 'kelp-print cotton' has no end: give its length, or a number of caps",
    ),
    (
        "as many",
        SMALL_JOB.replace("quantity = 1", 'quantity = "lots"'),
        "'lots' must be a number, or \"as many as fit\"",
    ),
    (
        "not one cap",
        with_cloth("width = 700\nlength = 320").replace("= 1\n", '= "as many as fit"\n'),
        "not one fits what there is of cloth 'kelp'",
    ),
    (
        "remnant with a width",
        with_cloth("width = 700\noutline = [[0, 0], [900, 0], [900, 700]]"),
        "width: a remnant with an outline lies alone and has none: leave it out",
    ),
    (
        "two corners",
        with_cloth("outline = [[0, 0], [900, 0]]"),
        "or a list of 3 to 500 corners, each [along, across]",
    ),
    (
        "crossing remnant",
        with_cloth("outline = [[0, 0], [900, 700], [900, 0], [0, 700]]"),
        "[[cloth]] 1: outline: is no piece of cloth (Self-intersection",
    ),
    (
        "no such remnant",
        with_cloth('outline = "nowhere.svg"'),
        "outline: 'nowhere.svg' cannot be read: No such file",
    ),
    (
        "flaw off the remnant",
        with_cloth(
            "outline = [[0, 0], [900, 0], [900, 700]]\nflaws = [{ at = [880, 9], size = [30, 9] }]"
        ),
        "flaws 1: at: the flaw reaches to (910, 18) mm, and the remnant's box to (900, 700) mm",
    ),
    (
        "remnant beyond the bed",
        with_cloth("outline = [[0, 0], [900, 0], [900, 700]]") + "bed = { along = 800 }\n",
        "outline: the remnant is 900 mm by 700 mm, more than the machine's bed takes: cut it up",
    ),
    (
        "small remnants",
        with_cloth("outline = [[0, 0], [700, 0], [700, 700], [0, 700]]").replace(
            "quantity = 1", "quantity = 9"
        ),
        "there is not enough for the 9 caps and panels ordered: have more cloth",
    ),
    (
        "no speed",
        SMALL_JOB + 'cut_speed = "0 mm/s"',
        "cut_speed: '0 mm/s' is 0 mm/s, and must be more than 0",
    ),
    ("speed", SMALL_JOB + 'travel_speed = "fast"', 'is not a speed: write it like "100 mm/s"'),
    ("no acceleration", SMALL_JOB + "acceleration = 0", "acceleration: 0 is 0 mm/s2"),
    ("time", SMALL_JOB + 'start_time = "-1 s"', "is -1 s, and must be 0 to 60 s"),
    ("key of another tool", SMALL_JOB + "scrub = 1", 'goes with kind = "rotary blade", not'),
    ("notch", SMALL_JOB + 'notch = { shape = "vee" }', '"castle", "check", "U", "none"'),
    ("no machine file", SMALL_JOB + 'file = "no.toml"', "file: 'no.toml' cannot be read: No such"),
    (
        "wide notch",
        SMALL_JOB + 'notch = { shape = "U", width = "12 mm" }',
        "a U notch 12 mm wide is deeper than the",
    ),
    (
        "bed smaller than a piece",
        SMALL_JOB + "bed = { along = 200, across = 200 }",
        "the machine's bed",
    ),
    (
        "plies of the machine",
        SMALL_JOB.replace('fibre = "cotton"', 'fibre = "cotton"\nplies = 4') + "most_plies = 3",
        "[[cloth]] 1: plies: 4 layers are more than the 3 that the machine cuts at once: spread "
        "fewer, or raise job.toml: [machine]: most_plies",
    ),
    (
        "stack of the machine",
        SMALL_JOB.replace('fibre = "cotton"', 'fibre = "cotton"\nplies = 4\nthickness = 0.5')
        + 'most_stack = "1.6 mm"',
        "are 2 mm high, and the machine cuts at most 1.6 mm (as it says; job.toml: [machine]: "
        "most_stack): spread at most 3 layers",
    ),
    (
        "stack of the blade",
        SMALL_JOB.replace('kind = "laser"', 'kind = "rotary blade"').replace(
            'fibre = "cotton"', 'fibre = "cotton"\nplies = 3\nthickness = 2.5'
        ),
        "are 7.5 mm high, and the machine cuts at most 7 mm (a quarter of the blade's 28 mm",
    ),
    ("thickness", with_cloth("width = 1100\nthickness = 0"), "measure one ply"),
    ("PVC", SMALL_JOB.replace('"cotton"', '"PVC"'), "is refused on a laser"),
]


@pytest.mark.usefixtures("short_last_try")
@pytest.mark.parametrize(("text", "words"), [b[1:] for b in BAD_JOBS], ids=[b[0] for b in BAD_JOBS])
def test_a_bad_job_says_what_is_wrong_and_writes_nothing(
    text: str, words: str, job_file: WriteJob, tmp_path: Path
) -> None:
    out = tmp_path / "out"
    run = cutfiles("make", job_file(text), "--out", out, "--seconds", "0.1")
    assert run.returncode == 2, run.stderr
    assert words in run.stderr
    assert "error: job.toml" in run.stderr
    assert "Traceback" not in run.stderr
    assert names(out) == []


def test_all_findings_come_at_once(job_file: WriteJob, tmp_path: Path) -> None:
    text = with_cloth('width = -3\nselvedge = "1 ell"\nplies = true') + "[machin]\n"
    run = cutfiles("make", job_file(text), "--out", tmp_path / "out")
    assert run.returncode == 2
    for words in ("width", "selvedge", "plies", "machin"):
        assert any(words in line for line in run.stderr.splitlines()), words
    assert len(run.stderr.splitlines()) == 4


def test_a_missing_file(tmp_path: Path) -> None:
    run = cutfiles("make", tmp_path / "nowhere.toml", "--out", tmp_path / "out")
    assert run.returncode == 2
    assert "nowhere.toml: cannot be read: No such file" in run.stderr
    assert "Traceback" not in run.stderr


def test_a_file_that_is_not_text(tmp_path: Path) -> None:
    (tmp_path / "job.toml").write_bytes(b"\xff\xfe\x00")
    run = cutfiles("make", tmp_path / "job.toml", "--out", tmp_path / "out")
    assert run.returncode == 2
    assert "not UTF-8 text" in run.stderr


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ("kind = = 3", "error: our.toml: not a TOML file"),
        ('kind = "drag nife"', "our.toml: kind: 'drag nife' must be one of"),
        ('kind = "drag nife"', '(did you mean "drag knife"?)'),
        ('kind = "laser"\ntravel_sped = 3', "our.toml: travel_sped: is no key of a machine's file"),
        ('kind = "laser"\nscrub = 3', "our.toml: scrub: goes with kind"),
        ('kind = "laser"\nmost_plies = 0', "our.toml: most_plies: 0 must be 1 to 200"),
    ],
)
def test_a_bad_machine_file(said: str, words: str, job_file: WriteJob, tmp_path: Path) -> None:
    (tmp_path / "our.toml").write_text(said, encoding="utf-8")
    job = job_file(ONE_CLOTH + ONE_CAP + '[machine]\nfile = "our.toml"\n')
    run = cutfiles("make", job, "--out", tmp_path / "out", "--seconds", "0.1")
    assert run.returncode == 2
    assert words in run.stderr
    assert "Traceback" not in run.stderr
    assert names(tmp_path / "out") == []


def test_a_blade_too_large_for_a_panel(job_file: WriteJob, tmp_path: Path) -> None:
    (tmp_path / "patch.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="99mm" height="99mm" viewBox="0 0 99 99">'
        '<g id="outline"><path d="M 9 9 H 90 V 90 H 9 Z"/></g>'
        '<g id="inner"><path d="M 40 40 H 45 V 45 H 40 Z"/></g></svg>'
    )
    panels = '[[panels]]\nfile = "patch.svg"\nquantity = 1\ngrain_deg = 0\n'
    job = job_file(ONE_CLOTH + panels + '[machine]\nkind = "rotary blade"\n')
    run = cutfiles("make", job, "--out", tmp_path / "out", "--seconds", "0.1")
    assert run.returncode == 2
    assert "a cut-out 5.0 mm by 5.0 mm is too small for a blade that cuts 9.3 mm" in run.stderr
    assert names(tmp_path / "out") == []
