"""Plates of any outline: said in the case, or taken from a drawing; what follows from them."""

from __future__ import annotations

import math
from pathlib import Path

import ezdxf
import numpy as np
import pytest

from platestack.geometry import case as case_file
from platestack.geometry import layout, masses, mesher
from platestack.geometry.cutting import drawing, work
from platestack.geometry.errors import CaseError
from platestack.geometry.mesh import Sizes
from platestack.geometry.symmetry import choose_symmetry, symmetry_of

CASES = Path(__file__).parents[2] / "cases"
TAPERED = """outline = { mirrored = "both", points = [
    ["225 mm", "0 mm"], ["225 mm", "60 mm", "20 mm"], ["130 mm", "100 mm", "40 mm"]] }"""
BESIDE = 'outline = { file = "bed.dxf", layer = "CUT" }'


def pressed(small_text: str, outline: str) -> str:
    """The small case with an outline of its bed."""
    head, bed = small_text.split("[bed]\n")
    lines = [line for line in bed.splitlines() if not line.startswith(("length", "width"))]
    return f"{head}[bed]\n{outline}\n" + "\n".join(lines)


def area_of(corners: list[tuple[float, float]]) -> float:
    """Of a polygon, by the shoelace formula."""
    x, y = np.array(corners).T
    return abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1))) / 2


def rounding(radius: float, angle: float) -> float:
    """What rounding takes off a corner of an inner angle (rad)."""
    return radius**2 * (1 / math.tan(angle / 2) - (math.pi - angle) / 2)


@pytest.fixture(scope="module")
def tapered(small_text):
    return layout.build(case_file.parse(pressed(small_text, TAPERED)))


def test_area_box_and_mirrors(tapered):
    plate = tapered.bed.plates[0]
    sharp = [(0.225, -0.06), (0.225, 0.06), (0.13, 0.1), (-0.13, 0.1),
             (-0.225, 0.06), (-0.225, -0.06), (-0.13, -0.1), (0.13, -0.1)]  # fmt: skip
    slope = math.atan2(0.04, 0.095)
    lost = 4 * (rounding(0.02, math.pi / 2 + slope) + rounding(0.04, math.pi - slope))
    assert plate.outline.area == pytest.approx(area_of(sharp) - lost, rel=1e-9)
    assert plate.outline.box == pytest.approx((-0.225, -0.1, 0.225, 0.1))
    assert symmetry_of(tapered.bed, tapered.rods) == {"x", "y"}


def test_mesh_has_the_volume_of_the_plates(tapered):
    """On the share that mirrors leave, its curved edges within 0.1 %."""
    bed = tapered.bed
    sizes = Sizes(0.05, round_divisions=12, ring_divisions=1, patch_divisions=4)
    mesh = mesher.make(bed, tapered.rods, choose_symmetry(bed, tapered.rods), sizes)
    corners = mesh.nodes[mesh.tets[:, :4]]
    volume = np.abs(np.linalg.det(corners[:, 1:] - corners[:, :1])).sum() / 6 * mesh.share
    holes = sum(hole.area * plate.thickness for plate in bed.plates for hole in plate.holes)
    # Straight edges of elements leave twelve-sided holes in place of round ones.
    facets = holes * (1 - 12 / (2 * math.pi) * math.sin(2 * math.pi / 12))
    exact = sum(plate.volume for plate in bed.plates)
    assert volume == pytest.approx(exact + facets, rel=2e-3)
    assert mesh.quality.least_jacobian > 0.1


def test_mass_goes_through_all_lists(tapered):
    plates = [p for p in masses.pieces(tapered) if p.group == "bed"]
    assert sum(p.mass for p in plates) == pytest.approx(tapered.bed.mass, rel=1e-12)


def drawn(path: Path, *, gap: float = 0.0, unit: int = 4) -> None:
    """A drawing of a rounded plate with an opening, some of it in a block, some drawn twice."""
    document = ezdxf.new("R2010", units=unit)
    for name in ("CUT", "OTHER"):
        document.layers.add(name)
    cut, space = {"layer": "CUT"}, document.modelspace()
    space.add_lwpolyline([(-225, -60, 0), (-130, -100, 0.2), (130, -100, 0), (225, -60, 0),
                          (225, 60, 0)], format="xyb", dxfattribs=cut)  # fmt: skip
    side = document.blocks.new("side")
    side.add_line((0, 0), (-95, 40), {"layer": "0"})
    space.add_blockref("side", (225, 60), cut)
    space.add_line((130 - gap, 100), (-130, 100), cut)
    space.add_line((-130, 100), (130 - gap, 100), cut)
    space.add_spline(dxfattribs=cut).set_open_uniform(
        [(-130, 100), (-180, 90), (-225, 90), (-225, 60)], degree=3)  # fmt: skip
    space.add_line((-225, 60), (-225, -60), cut)
    space.add_circle((60, 0), 15, cut)
    space.add_text("bed", dxfattribs=cut)
    space.add_line((0, 0), (5, 5), {"layer": "OTHER"})
    document.saveas(path)


def test_a_drawing_beside_the_case(small_text, tmp_path):
    """Lines, an arc, a spline and a block joined; the circle within becomes an opening."""
    drawn(tmp_path / "bed.dxf")
    (tmp_path / "press.toml").write_text(pressed(small_text, BESIDE), "utf-8")
    case = case_file.read(tmp_path / "press.toml")
    plate = layout.build(case).bed.plates[0]
    assert plate.outline.box == pytest.approx((-0.225, -0.126, 0.225, 0.1), abs=1e-9)  # bulge 0.2
    turn = 4 * math.atan(0.2)
    bow = (0.13 / math.sin(turn / 2)) ** 2 / 2 * (turn - math.sin(turn))
    bezier = [(-0.13, 0.1), (-0.18, 0.09), (-0.225, 0.09), (-0.225, 0.06)]
    t = np.linspace(0, 1, 4001)[:, None]
    curve = sum(
        math.comb(3, k) * (1 - t) ** (3 - k) * t**k * np.array(p) for k, p in enumerate(bezier)
    )
    around = [
        (-0.225, -0.06),
        (-0.13, -0.1),
        (0.13, -0.1),
        (0.225, -0.06),
        (0.225, 0.06),
        (0.13, 0.1),
    ]
    assert plate.outline.area == pytest.approx(area_of([*around, *curve]) + bow, rel=1e-6)
    assert plate.volume_of_outline / plate.thickness == pytest.approx(
        plate.outline.area - sum(hole.area for hole in plate.holes), rel=1e-12
    )
    assert math.pi / 4 * 0.03**2 == pytest.approx(min(h.area for h in plate.holes), rel=1e-7)
    kept = case_file.text_of(tmp_path / "press.toml")
    (tmp_path / "bed.dxf").unlink()
    assert case_file.parse(kept) == case  # what a run keeps needs no drawing


def test_cut_file_read_back_is_the_same_plate(small_text, tmp_path):
    """What is drawn for the cutter, taken as an outline again."""
    press = layout.build(case_file.parse(pressed(small_text, TAPERED)))
    cutting = case_file.parse(small_text).cutting
    own = next(one for one in work.plan(press, cutting) if one.stack == "bed")
    document = drawing.draw(own, cutting)
    for entity in list(document.modelspace()):
        if entity.dxf.layer == "finished" and entity.dxftype() == "CIRCLE":
            document.modelspace().delete_entity(entity)  # holes of rods come from the rods
    document.saveas(tmp_path / "bed.dxf")
    text = pressed(small_text, BESIDE.replace("CUT", "finished"))
    (tmp_path / "press.toml").write_text(text, "utf-8")
    again = layout.build(case_file.read(tmp_path / "press.toml"))
    one, two = press.bed.plates[0].outline, again.bed.plates[0].outline
    assert two.area == pytest.approx(one.area, rel=1e-9)
    assert two.box == pytest.approx(one.box, abs=1e-9)
    assert again.bed.mass == pytest.approx(press.bed.mass, rel=1e-9)


def test_unlike_plates_of_one_stack(small_text):
    """One plate short of the rods has no holes for them."""
    text = small_text.replace(
        '[bed]\nlength', '[bed]\nopenings = []\nlength', 1
    )  # fmt: skip
    own = """plates = [{ thickness = "50 mm" }, { thickness = "30 mm", outline = { points = [
        ["-90 mm", "-60 mm"], ["90 mm", "-60 mm"], ["90 mm", "60 mm"], ["-90 mm", "60 mm"]] } }]"""
    head, bed = text.split("[bed]\n")
    bed = "\n".join(own if line.startswith("plates") else line for line in bed.splitlines())
    whole, inner = layout.build(case_file.parse(f"{head}[bed]\n{bed}")).bed.plates[:2]
    assert len(whole.holes) > len(inner.holes)
    assert inner.outline.area == pytest.approx(0.18 * 0.12)


def test_torch_path_lies_half_the_kerf_outside(tapered, small_text):
    cutting = case_file.parse(small_text).cutting.model_copy(update={"drawn": "torch path"})
    own = next(one for one in work.plan(tapered, cutting) if one.stack == "bed")
    grown = drawing.grown(own.blank, cutting.kerf / 2)
    outline = own.blank
    strip = outline.contour.perimeter * cutting.kerf / 2
    assert grown.area - outline.area == pytest.approx(strip, rel=2e-2)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"gap": 0.8}, "open at"),
        ({"unit": 0}, "names no unit"),
        ({"unit": 6}, "up to 100 m"),
    ],
)
def test_unusable_drawings_are_told_in_a_line(small_text, tmp_path, change, words):
    drawn(tmp_path / "bed.dxf", **change)
    (tmp_path / "press.toml").write_text(pressed(small_text, BESIDE), "utf-8")
    with pytest.raises(CaseError) as told:
        case_file.read(tmp_path / "press.toml")
    (problem,) = told.value.problems
    assert problem.key == "bed.outline.file"
    assert words in problem.allowed


@pytest.mark.parametrize(
    ("outline", "key", "words"),
    [
        (BESIDE, "bed.outline", "no such file"),
        (BESIDE.replace(', layer = "CUT"', ', layer = "NONE"'), "bed.outline", "no such file"),
        ('outline = { points = [["0 mm", "0 mm"]] }', "bed.outline", "three points"),
        ('outline = { points = ["0 mm"] }', "bed.outline.points[1]", "table"),
        (TAPERED + '\ncorners = "rounded"\ncorner_size = "9 mm"', "bed", "does not go with"),
        (
            'outline = { mirrored = "both", points = [["190 mm", "100 mm"]] }',
            "bed, plate 1",
            "leaves the plate",
        ),
    ],
)
def test_mistakes_are_told(small_text, tmp_path, outline, key, words):
    (tmp_path / "press.toml").write_text(pressed(small_text, outline), "utf-8")
    with pytest.raises(CaseError) as told:
        case_file.read(tmp_path / "press.toml")
    assert any(p.key.startswith(key) and words in p.allowed for p in told.value.problems), (
        told.value
    )


@pytest.mark.parametrize("bytes_", [b"", b"0\nSECTION", b"\x00\xff" * 500, b"0\nEOF\n" * 9])
def test_what_is_no_drawing(small_text, tmp_path, bytes_):
    (tmp_path / "bed.dxf").write_bytes(bytes_)
    (tmp_path / "press.toml").write_text(pressed(small_text, BESIDE), "utf-8")
    with pytest.raises(CaseError, match=r"bed\.outline\.file"):
        case_file.read(tmp_path / "press.toml")


def test_upright_plates_get_their_edges_machined():
    """A tapered plate on edge: its blank has the allowance on the edges that bear, no more."""
    text = (CASES / "on_edge" / "on_edge.toml").read_text("utf-8")
    head, rest = text.split("[crosshead]\n")
    own, bed = rest.split("[bed]\n")
    keys = ("length", "height", "corner")
    lines = [line for line in own.splitlines() if not line.startswith(keys)]
    outline = """outline = { mirrored = "x", points = [["0 mm", "-190 mm"], ["300 mm", "-190 mm"],
        ["600 mm", "-40 mm"], ["600 mm", "190 mm"], ["0 mm", "190 mm"]] }"""
    case = case_file.parse(f"{head}[crosshead]\n{outline}\n" + "\n".join(lines) + f"\n[bed]\n{bed}")
    press = layout.build(case)
    plate = next(one for one in press.crosshead.plates if one.role == "plate")
    assert plate.outline.area == pytest.approx(1.2 * 0.38 - 0.3 * 0.15, rel=1e-12)
    own = next(one for one in work.plan(press, case.cutting) if one.plate == plate)
    more = (1.2 + 0.6) * case.cutting.allowance
    assert own.blank.area - plate.outline.area == pytest.approx(more, rel=1e-9)
    assert symmetry_of(press.crosshead, press.rods) == {"x", "y"}
