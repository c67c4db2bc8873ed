"""Mutations of a small module, and code swapped into functions that are there already."""

from __future__ import annotations

import importlib
import sys

from tests.figures import mutating, trying

TEXT = '''"""Left alone."""
TOP = 1.5
def sag(load: float, span: float) -> float:
    """Left alone, 2 * 3."""
    if not 0 < load <= span:
        raise ValueError(f"{load * 2}")
    part = min(load, span) if load > 1e-9 else -load
    return TOP * part**3 / (48 * span) + moved(load, span)
def moved(far, near):
    return far - near
'''
FOUND = {
    "TOP = 1.8", "if 0 < load <= span:", "if not 1 < load <= span:", "if not 0 <= load <= span:",
    "if not 0 < load < span:", "if not 0 < span <= span:", "if not 0 < load <= load:",
    "part = max(load, span) if load > 1e-9 else -load",
    "part = min(load, span) if load > 1e-9 else load", "part = min(load, span)",
    "return TOP * part**3 / (48 * span) - moved(load, span)",
    "return TOP * part*3 / (48 * span) + moved(load, span)",
    "return TOP * part**4 / (48 * span) + moved(load, span)",
    "return TOP * part**3 / (48 / span) + moved(load, span)",
    "return TOP * part**3 / (48) + moved(load, span)", "return TOP * part**3 / (48 * span)",
    "return part**3 / (48 * span) + moved(load, span)",
    "return TOP * part**3 / (48 * span) + moved(span, load)", "return far + near", "return far",
}  # fmt: skip


def test_mutations_of_a_small_module(tmp_path):
    (tmp_path / "one.py").write_text(TEXT, encoding="utf-8")
    found = mutating.mutations(tmp_path, "one.py")
    assert {one.after for one in found} >= FOUND
    assert not any("ValueError" in one.before or "alone" in one.before for one in found)
    # A tolerance is a boundary that nothing lies on.
    assert "part = min(load, span) if load >= 1e-9 else -load" not in {one.after for one in found}
    for one in found:
        assert one.is_valid(TEXT.encode())
        (line,) = (new for old, new in zip(
            TEXT.splitlines(), one.applied(TEXT.encode()).decode().splitlines(), strict=True
        ) if old != new)  # fmt: skip
        assert " ".join(line.split()) == one.after
    assert [one.names for one in found if one.before == "TOP = 1.5"] == [("TOP",)]


def test_functions_that_are_there_get_the_changed_code(tmp_path, monkeypatch):
    place = tmp_path / "mutated_example.py"
    place.write_text(TEXT, encoding="utf-8")
    monkeypatch.syspath_prepend(str(tmp_path))
    monkeypatch.setattr(trying, "module_of", lambda path: path.stem)
    module = importlib.import_module("mutated_example")
    held = module.moved
    new = TEXT.replace("far - near", "far + near").encode()
    trying.note_functions({str(place)})
    assert trying.swap_code(place, TEXT.encode(), new)
    assert held(3, 2) == 5
    assert "mutated_example" in sys.modules
    assert module.sag(1, 2) == 1.5 / 96 + 3
