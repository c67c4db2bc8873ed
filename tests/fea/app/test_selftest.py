"""The self-test: passes where all is well, fails and advises where it is not."""

from __future__ import annotations

import math
import re

import pytest

from platestack.fea.app import selftest
from platestack.fea.app.selftest import PublishedComparison, accuracy, parts
from platestack.fea.numerics.elasticity import QuadraticSpace


def test_deviation_is_judged_either_way():
    for value, passes in ((98.1, True), (101.9, True), (97.9, False), (102.1, False)):
        assert PublishedComparison("", value, 100.0, "m", 0.02, "").passed is passes
        assert PublishedComparison("", -value, -100.0, "m", 0.02, "").passed is passes
    assert not PublishedComparison("", math.nan, 1.0, "m", 0.5, "").passed


def test_a_failure_is_told_with_advice_and_the_others_go_on(call, monkeypatch):
    def broken() -> str:
        raise OSError("libGL.so.1: cannot open shared object file")

    monkeypatch.setattr(parts, "PARTS", (("mesher", broken, "install libgl1"),
                                         ("memory", lambda: "enough", "")))  # fmt: skip
    monkeypatch.setattr(selftest, "compared", lambda: iter([]))
    code, out, _ = call("self-test")
    assert code == 1
    assert re.search(r"FAILED +mesher +OSError: libGL\.so\.1: cannot open", out)
    assert "install libgl1" in out
    assert re.search(r"ok +memory +enough", out)
    assert out.rstrip().endswith("1 failed")
    assert max(map(len, out.splitlines())) <= 100


def test_a_comparison_that_cannot_be_made_has_not_passed(monkeypatch):
    def broken():
        """A body."""
        raise ZeroDivisionError("no")
        yield

    monkeypatch.setattr(accuracy, "_thick_cylinder", broken)
    first = next(accuracy.compared())
    assert not first.passed
    assert (first.name, first.source) == ("A body.", "ZeroDivisionError: no")


def test_a_stiffness_five_percent_off_is_found(monkeypatch):
    """Bore displacement and deflection of the plate both tell."""
    right = QuadraticSpace.stiffness
    monkeypatch.setattr(QuadraticSpace, "stiffness", lambda *args: 1.05 * right(*args))
    for body in (accuracy._thick_cylinder, accuracy._bent_plate):
        first = next(body())
        assert not first.passed
        assert first.deviation == pytest.approx(1 / 1.05 - 1, abs=0.003)


@pytest.mark.slow
def test_this_installation_passes(call):
    code, out, _ = call("self-test")
    assert code == 0, out
    assert "FAILED" not in out
    assert out.count("ok ") == len(parts.PARTS) + 6
