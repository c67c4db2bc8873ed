"""What a run will take: counted before meshing, made to fit, refused in a sentence."""

from __future__ import annotations

import resource
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
import tomlkit

from platestack.fea.solid import forecast, model
from platestack.fea.support import machine
from platestack.fea.support.machine import Room
from platestack.geometry import case as case_file
from platestack.geometry import layout
from platestack.geometry.mesh import Sizes
from platestack.geometry.mesher.counting import count
from platestack.geometry.symmetry import symmetry_of

ROOT = Path(__file__).parents[3]


def with_room(monkeypatch, gigabytes: float) -> None:
    monkeypatch.setattr(machine, "room", lambda: Room(gigabytes * 1e9, "so a test says"))


# --- counting


@pytest.mark.parametrize("which", ["crosshead", "bed"])
def test_first_mesh_is_counted_within_a_quarter(small_solution, which):
    """Of the mesh made; `tests.figures.forecast` prints more of them."""
    expected = small_solution.forecast.stacks[which].first
    assert expected == pytest.approx(small_solution.stacks[which].passes[0].unknowns, rel=0.25)


def test_count_follows_size_and_share(small_press):
    """A body much finer than its features holds 8 times the elements at half the size."""
    bed, rods = small_press.bed, small_press.rods
    plain = {"round_divisions": 1, "ring_divisions": 1, "patch_divisions": 1}
    coarse, fine = (count(bed, rods, frozenset(), Sizes(h, **plain)) for h in (0.004, 0.002))
    assert fine.tets / coarse.tets == pytest.approx(8, rel=0.02)
    quarter = count(bed, rods, symmetry_of(bed, rods), Sizes(0.002, **plain))
    assert fine.tets / quarter.tets == pytest.approx(4, rel=0.02)
    # Regular tetrahedra of edge h fill the plates, by the fraction of them that meshes show.
    volume = sum(plate.volume for plate in bed.plates)
    assert fine.tets == pytest.approx(0.6 * 6 * 2**0.5 * volume / 0.002**3, rel=0.05)


def test_the_small_press_is_expected_to_take_seconds(small_press, small_case, monkeypatch):
    """As it does, and as its case says; the start is in it."""
    with_room(monkeypatch, 8.0)
    monkeypatch.setattr(machine, "pace", lambda: 1.0)
    expected = forecast.of(small_press, small_case)
    assert forecast.START < expected.seconds < 60
    monkeypatch.setattr(machine, "pace", lambda: 3.0)
    slower = forecast.of(small_press, small_case)
    assert slower.seconds - forecast.START == pytest.approx(3 * (expected.seconds - forecast.START))


def test_thin_loose_plates_are_expected_to_take_longer(small_text):
    """By the factors measured; 36 mm plates on elements of 12 mm are not thin."""
    asked = {}
    for plates in ("5 x 36 mm", "60 x 3 mm"):
        text = small_text.replace("[rods]", '[mesh]\nsize = "12 mm"\n[rods]')
        tree = tomllib.loads(text)
        for name in ("crosshead", "bed"):
            tree[name] |= {"plates": [plates], "interface": {"kind": "loose"}}
        case = case_file.parse(tomlkit.dumps(tree), "leaves.toml")
        asked[plates] = forecast.of(layout.build(case), case).stacks["bed"]
    thick, thin = asked.values()
    assert thin.seconds / thick.seconds == pytest.approx(forecast.THIN_SECONDS["loose"])
    assert thin.per_unknown / thick.per_unknown == pytest.approx(forecast.THIN_MEMORY["loose"])
    assert thick.seconds == forecast.SECONDS["loose"]


# --- made to fit


def test_a_case_that_fits_is_left_alone(small_press, small_case, monkeypatch):
    with_room(monkeypatch, 16)
    found = forecast.of(small_press, small_case)
    assert found.case == small_case
    assert not found.coarsened
    assert not found.shortened
    assert "16 GB free (so a test says)" in found.words()
    assert found.memory[0] < found.memory[1]


def test_refinement_is_cut_short_first(small_press, small_case, monkeypatch):
    with_room(monkeypatch, 0.8)
    found = forecast.of(small_press, small_case)
    cap = found.case.mesh.most_unknowns
    assert 20_000 < cap < small_case.mesh.most_unknowns
    assert found.case.mesh.size is None
    assert "0.8 GB (so a test says)" in found.shortened
    # What it may take at most is within what is there.
    assert found.memory[1] - found.occupied < 0.8e9


def test_a_first_mesh_is_made_coarser_but_not_one_that_was_asked_for(press_of, monkeypatch):
    large = case_file.read(ROOT / "cases" / "large" / "large.toml")
    with_room(monkeypatch, 0.8)
    found = forecast.of(press_of("large"), large)
    assert found.case.mesh.size is not None
    assert "made coarser" in found.coarsened
    wish = large.mesh.model_copy(update={"size": 0.02})
    given = large.model_copy(update={"mesh": wish})
    with pytest.raises(forecast.TooLarge, match=r"0\.8 GB \(so a test says\).*mesh\.size over 20"):
        forecast.of(press_of("large"), given)


def test_nothing_is_meshed_where_nothing_fits(small_case, monkeypatch):
    with_room(monkeypatch, 0.1)
    monkeypatch.setattr(model, "solve_stack", lambda *_: pytest.fail("solved all the same"))
    with pytest.raises(forecast.TooLarge) as caught:
        model.analyse(small_case)
    assert caught.value.exit_code == 3
    assert len(str(caught.value).splitlines()) == 1


def test_what_was_changed_is_said_in_the_solution(small_solution):
    from dataclasses import replace

    told = replace(small_solution.forecast, coarsened="coarser.", shortened="shorter.")
    changed = replace(small_solution, forecast=told)
    assert changed.changes == ["coarser."]  # refinement never went as far as its bound
    less = {name: replace(stack, accurate=False) for name, stack in small_solution.stacks.items()}
    assert replace(changed, stacks=less).changes == ["coarser.", "shorter."]


# --- what the machine has


def test_the_process_limit_counts():
    """A child with 3 GB of address space sees less than that, and says why."""
    code = "from platestack.fea.support import machine; r = machine.room(); print(r.free, r.why)"
    most = 3 * 10**9
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        cwd=ROOT,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_AS, (most, most)),
        check=True,
    )
    free, _, why = done.stdout.partition(" ")
    assert 1e9 < float(free) < most
    assert why.strip() == "the process's limit RLIMIT_AS"


@pytest.mark.parametrize(
    ("groups", "folder", "files"),
    [
        ("0::/work/one", "work", ("memory.max", "memory.current", "inactive_file")),
        (
            "4:memory:/work/one",
            "memory/work",
            ("memory.limit_in_bytes", "memory.usage_in_bytes", "total_inactive_file"),
        ),
    ],
)
def test_control_groups_count(tmp_path, monkeypatch, groups, folder, files):
    """Also a limit of a group above; the cache of files is as good as free."""
    limit, usage, cached = files
    group = tmp_path / "sys/fs/cgroup" / folder
    (group / "one").mkdir(parents=True)
    (tmp_path / "proc/self").mkdir(parents=True)
    (tmp_path / "proc/self/cgroup").write_text(f"7:cpu:/\n{groups}\n")
    for place, most in ((group, "1000000"), (group / "one", "max")):
        (place / limit).write_text(most)
        (place / usage).write_text("700000")
        (place / "memory.stat").write_text(f"anon 5\n{cached} 200000\n")
    monkeypatch.setattr(machine, "ROOT", tmp_path)
    found = machine.room()
    assert (found.free, found.why) == (500_000, "the control group's memory limit")


def test_no_group_no_limit(tmp_path, monkeypatch):
    monkeypatch.setattr(machine, "ROOT", tmp_path)
    assert machine.room().free > 1e6
    assert "machine" in machine.room().why or "RLIMIT" in machine.room().why


def test_layout_of_every_case_is_counted(press_of):
    """No stack is beyond the counter: on edge, grooves, seats, rectangles."""
    for name in ("small", "demo", "on_edge", "off_centre", "large"):
        press = press_of(name)
        case = case_file.read(ROOT / "cases" / name / f"{name}.toml")
        found = forecast.of(press, case)
        assert 10_000 < found.unknowns[0] < 1e6
