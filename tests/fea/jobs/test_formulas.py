"""Each formula of a dossier, recomputed from the inputs that stand beside it."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from platestack.fea.app.report import content, formula
from platestack.fea.app.report.blocks import Calculation
from platestack.fea.checks import FACTS, KINDS, all_checks, all_facts
from platestack.fea.hand.beam import beam_check
from platestack.fea.hand.erection import plan
from platestack.fea.jobs.options import by_hand as options_by_hand
from platestack.fea.jobs.proof.plan import make as proof_plan
from platestack.fea.jobs.sizing import by_hand
from platestack.fea.results import run_directory
from platestack.fea.solid.model import Solution
from platestack.fea.solid.statics import Statics, single
from platestack.geometry import case as case_file
from platestack.geometry import layout
from platestack.geometry.units import quantity, shown_in

CASES = sorted((Path(__file__).parents[3] / "cases").glob("*/*.toml"))
DIGITS = 4
RAM = '[ram]\ndiameter = "125 mm"\n'
VARIANTS = {
    "plain": ("", RAM),
    "flange": ("", RAM + 'outer_diameter = "176 mm"\n'
               'flange = { outer_diameter = "260 mm", thickness = "40 mm" }\n'
               '[ram.fixing]\nthread = "M20"\ncount = 8\npull = "80 kN"\npreload = "60 kN"\n'),
    "springs": ('[cylinder.return_spring]\ncount = 6\nwire = "10 mm"\ncoil = "70 mm"\ncoils = 20\n'
                'free_length = "500 mm"\nfitted_length = "370 mm"\n', RAM),
    "gland bolts": ('[cylinder]\nouter_diameter = "200 mm"\nefficiency = 0.98\n'
                    '[cylinder.gland_bolts]\nthread = "M16"\ncount = 12\n',
                    RAM + 'outer_diameter = "170 mm"\n'),
    "hydraulics": ('[hydraulics]\nrelief = "30 MPa"\nhose_class = "35 MPa"\nmotor = "4 kW"\n'
                   'tank = "40 L"\nstages = [{ flow = "8 L/min", pressure = "10 MPa" }, '
                   '{ flow = "3 L/min", pressure = "32 MPa" }]\n', RAM),
    "bolts": ('[[bed.clamp_bolts]]\nthread = "M20"\nat = ["90 mm", "60 mm"]\n'
              '[[bed.clamp_bolts]]\nthread = "M20"\nat = ["-90 mm", "60 mm"]\n'
              'preload = "90 kN"\n', RAM),
    "seams and a spectrum": (
        '[bed.connectors]\nkind = "seams"\nthroat = "8 mm"\n[cylinder]\n'
        'bottom_joint = "partial penetration"\n[spectrum]\nrecorded = '
        '["0 tf", "30 tf", "10 tf", "20 tf", "5 tf"]\nrepeats = 4_000\n', RAM),
    "shop": ('[prices]\ncurrency = "EUR"\nplate = "1.5 per kg"\nextra = { hoses = 100.0 }\n', RAM),
}  # fmt: skip
SHOP = (
    'hook_height = "2 m"\ntransport = "80 kg"\ndoor = ["0.9 m", "2 m"]\nfloor_pressure = "1 MPa"\n'
)


def wrong(record, limit=None) -> list[str]:
    """What a record's formula gives otherwise than the record: with its inputs, and as shown."""
    if not record.formula:
        return [] if record.method else ["neither formula nor method"]
    try:
        made = formula.read(record.formula)
    except formula.NoFormula:
        return [f"no formula: {record.formula}"]
    inputs = {one.name: one for one in record.inputs}
    symbols = {str(s) for side in (made.demand, made.limit) if side for s in side.free_symbols}
    if set(inputs) != symbols:
        return [f"inputs {sorted(inputs)}, symbols {sorted(symbols)}"]
    sides = [("value", made.demand, record.value)]
    if made.limit is not None:
        sides.append(("limit", made.limit, limit))
    found = []
    for name, side, expected in sides:
        exact = formula.value(side, {n: one.value for n, one in inputs.items()})
        if exact != pytest.approx(expected, rel=1e-6, abs=1e-12):
            found.append(f"{name}: {exact:.8g} instead of {expected:.8g}")
        shown = {n: read(quantity(i.value, i.unit), i.unit) for n, i in inputs.items()}
        value, doubt = interval(side, shown)
        told, rounding = read(quantity(expected, record.unit), record.unit)
        if not abs(value - told) <= 1.05 * (doubt + rounding) + 1e-15:
            found.append(f"{name} as shown: {value:.6g} instead of {told:.6g} ± {doubt:.2g}")
    return found


def read(words: str, unit: str) -> tuple[float, float]:
    """A quantity as a reader takes it (SI), and half of its last digit."""
    scale = shown_in(unit).scale
    number = float(words.split()[0].replace(",", ""))
    if number == 0:
        return 0.0, 0.0
    last = min(math.floor(math.log10(abs(number))) - DIGITS + 1, 0)
    return number * scale, 0.5 * 10.0**last * scale


def interval(side, shown) -> tuple[float, float]:
    """Value of an expression, and how far the rounding of its inputs may move it."""
    middle = {n: value for n, (value, _) in shown.items()}
    value = formula.value(side, middle)
    used = {str(s) for s in side.free_symbols}
    moved = [
        max(
            abs(formula.value(side, middle | {n: middle[n] + sign * shown[n][1]}) - value)
            for sign in (1, -1)
        )
        for n in used
    ]
    return value, sum(moved)


def faults(checks, facts=()) -> list[str]:
    told = [(c.name, words) for c in checks for words in wrong(c, c.limit)]
    return [f"{name}: {words}" for name, words in [*told, *((f.name, w) for f in facts
                                                           for w in wrong(f))]]  # fmt: skip


@pytest.mark.parametrize("name", VARIANTS)
def test_formulas_of_the_small_press_and_what_may_be_added(small_text, small_solution, name):
    more, ram = VARIANTS[name]
    text = small_text.replace(RAM, ram) + more
    if name == "shop":
        text = text.replace("[shop]\n", f"[shop]\n{SHOP}")
    case = case_file.parse(text, "small.toml")
    made = replace(small_solution, case=case, press=layout.build(case))
    checks, facts = all_checks(made), all_facts(made)
    assert len(checks) + len(facts) > 80
    assert not faults(checks, facts)
    steps = [check for step in plan(made.press, case).steps for check in step.checks]
    assert len(steps) > 3
    assert not faults(steps)


@pytest.mark.parametrize("path", CASES, ids=lambda path: path.stem)
def test_formulas_by_hand_of_every_case(path):
    case = case_file.read(path)
    press = layout.build(case)
    beams = {stack.name: beam_check(stack, press.rods, press.capacity).actual
             for stack in press.stacks}  # fmt: skip
    statics = Statics(case, press, {}, 0.0, single(beams))
    checks = [check for kind in KINDS for check in kind(statics)]
    for stack in press.stacks:
        checks += by_hand.stack_checks(
            stack, press, beams[stack.name], by_hand.CorrectionFactors(), case.limits
        )
        checks += options_by_hand._figures(stack, (beams[stack.name],), 1.5)[1]
    facts = [fact for source in FACTS for fact in source(statics)]
    assert len(checks) > 25
    assert not faults(checks, facts)


@pytest.mark.slow
@pytest.mark.parametrize("path", CASES, ids=lambda path: path.stem)
def test_formulas_of_every_case_solved(path, solve_coarse):
    case = case_file.read(path)
    made = Solution(case, layout.build(case), solve_coarse(case), 0.0)
    assert not faults(all_checks(made), all_facts(made))


def test_the_dossier_sets_each_formula_with_its_inputs(small_run):
    run = run_directory.reopen(small_run)
    dossier = content.make(run, None, proof_plan(run))
    blocks = [b for s in dossier.sections for b in s.blocks if isinstance(b, Calculation)]
    records = {r.name: r for r in (*run.summary.checks, *run.summary.facts)}
    assert len(blocks) > 80
    for block in blocks:
        record = records[block.name]
        assert block.formula == record.formula
        assert block.method == record.method
        assert block.inputs == tuple((i.name, quantity(i.value, i.unit)) for i in record.inputs)
        if block.formula:
            assert "<mtext>" not in formula.mathml(block.formula), block.formula


def test_a_wrong_formula_is_found(small_solution):
    burst = next(c for c in all_checks(small_solution) if "burst" in c.name)
    assert not wrong(burst, burst.limit)
    assert wrong(replace(burst, formula=burst.formula.replace("2 −", "2.01 −")), burst.limit)
    assert wrong(replace(burst, value=1.001 * burst.value), burst.limit)
    assert wrong(replace(burst, inputs=burst.inputs[1:]), burst.limit)
    assert wrong(burst, 1.01 * burst.limit)


# --- how formulas are set


@pytest.mark.parametrize(
    ("text", "typst"),
    [
        ("F/(2·π)", 'frac(F, "2" · π)'),
        ("ln(r_2/r_1)", '"ln" lr(\\( frac(attach(r, b: "2"), attach(r, b: "1")) \\))'),
        ("F/min(A, B)", 'frac(F, "min" lr(\\( A \\, B \\)))'),
        ("p·a/(2·t)", 'frac(p · a, "2" · t)'),
        ("π/4·(D² − d²)", 'frac(π, "4") · lr(\\( attach(D, t: "2") − attach(d, t: "2") \\))'),
        ("a − (b − c)", "a − lr(\\( b − c \\))"),
        ("a/(b/c)", "frac(a, frac(b, c))"),
        ("(a + b)²", 'attach(lr(\\( a + b \\)), t: "2")'),
        ("−a·b + c", "− a · b + c"),
        ("abs(a − b) ≤ 0.58·R_e", 'lr(\\| a − b \\|) ≤ "0.58" · attach(R, b: e)'),
        ("2·10^6/N", 'frac("2" · attach("10", t: "6"), N)'),
        ("IEC 60072-1", '"IEC 60072-1"'),
    ],
)
def test_formulas_are_set_as_they_are_meant(text, typst):
    assert formula.typst(text) == typst


def test_standards_are_text_and_nothing_is_run():
    assert "<mtext>IEC 60072-1</mtext>" in formula.mathml("IEC 60072-1")
    for text in ("__import__('os').system('x')", "a.b", "[1]", "lambda: 0", "f(x)", "a if b else c",
                 "'text'", "x" * 5000 + "(", "2 x", "a = b"):  # fmt: skip
        with pytest.raises(formula.NoFormula):
            formula.read(text)


LEAVES = st.sampled_from(["a", "b_x", "K", "2", "0.5", "π"])
TREES = st.recursive(
    LEAVES,
    lambda inner: (
        st.tuples(st.sampled_from("+−·/"), inner, inner).map(lambda t: f"({t[1]} {t[0]} {t[2]})")
        | inner.map(lambda x: f"√({x}·{x})")
        | inner.map(lambda x: f"({x})²")
    ),
    max_leaves=8,
)


@settings(deadline=None)
@given(TREES, st.floats(0.5, 2.0), st.floats(2.5, 4.0), st.floats(4.5, 6.0))
def test_value_and_typeset_form_mean_the_same(text, a, b, k):
    """The typeset form read back as arithmetic gives the number of the expression."""
    inputs = {"a": a, "b_x": b, "K": k}
    side = formula.read(text).demand
    used = {name: value for name, value in inputs.items() if name in map(str, side.free_symbols)}
    try:
        expected = formula.value(side, used)
    except ZeroDivisionError:
        return
    if not math.isfinite(expected) or abs(expected) > 1e9:
        return
    code = formula.typst(text)
    names = {"a": a, "K": k, "π": math.pi, "b_x": b}
    told = eval(
        code_of(code),
        {"__builtins__": {}},
        {  # only what is set above
            **names,
            "frac": lambda x, y: x / y,
            "sqrt": math.sqrt,
            "power": lambda x, y: x**y,
        },
    )
    assert told == pytest.approx(expected, rel=1e-9, abs=1e-9)


def code_of(typst: str) -> str:
    """The few patterns that drawn formulas are set with, as arithmetic."""
    code = typst.replace("attach(b, b: x)", "b_x").replace("lr(\\(", "(").replace("\\))", ")")
    code = code.replace("attach(", "power(").replace(", t:", ",").replace('"', "")
    return code.replace("·", "*").replace("−", "-")
