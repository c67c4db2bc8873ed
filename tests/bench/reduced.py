"""The reduced model of the demo's crosshead against full solves: ``python -m tests.bench.reduced``.

Draws thickness sets of 0.5 to 2 times every plate, even in the logarithm, solves some in full on
the same mesh, and prints whether the bound covers the difference, and the ratio of the times.
"""

import argparse
import statistics
import time
from pathlib import Path

import numpy as np

from platestack.fea.solid.reduced import AffineProblem, Parameters, ReducedModel, store
from platestack.fea.solid.stack import mesh_stack
from platestack.geometry import case as case_file
from platestack.geometry import layout

CASES = Path(__file__).parents[2] / "cases"


def main() -> None:
    """Print bounds, true errors and times."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--case", default="demo")
    parser.add_argument("--stack", choices=("crosshead", "bed"), default="crosshead")
    parser.add_argument("--sets", type=int, default=200)
    parser.add_argument("--full", type=int, default=40, help="of them solved in full")
    parser.add_argument("--model", type=Path, help="file to keep the trained model in, and use")
    args = parser.parse_args()
    case = case_file.read(CASES / args.case / f"{args.case}.toml")
    press = layout.build(case)
    stack = getattr(press, args.stack)
    problem = AffineProblem.of(press, stack, mesh_stack(press, stack, case))
    start = time.perf_counter()
    name = store.key(args.case, args.stack)
    instant = store.load(args.model, name) if args.model else None
    if instant is None:
        instant = ReducedModel.of(problem)
        if args.model:
            store.save(instant, args.model, name)
    model = instant.model
    print(
        f"{problem.mesh.unknowns:,} unknowns, {model.solves} full solves and "
        f"{len(model.basis)} basis vectors in "
        f"{time.perf_counter() - start:.0f} s; largest bound at the training points "
        + ", ".join(f"{bound:.2%}" for bound in model.history),
        flush=True,
    )
    draws = 0.5 * 4 ** np.random.default_rng(2026).random((args.sets, problem.plates))
    points = [Parameters(tuple(draw), (1.0,) * problem.springs) for draw in draws]
    quick, slow, bounds, ratios = [], [], [], []
    for index, at in enumerate(points):
        start = time.perf_counter()
        answer = model.answer(at)
        quick.append(time.perf_counter() - start)
        bounds.append(answer.bound / answer.deflection)
        if index < args.full:
            start = time.perf_counter()
            true = problem.reading @ problem.full(at, problem.load, tol=1e-10)
            slow.append(time.perf_counter() - start)
            ratios.append(abs(true - answer.deflection) / answer.bound)
            print(f"{index + 1}: true error over bound {ratios[-1]:.3f}", flush=True)
    print(
        f"bound of {args.sets} sets: median {statistics.median(bounds):.2%}, largest "
        f"{max(bounds):.2%}; true error over bound at {args.full}: largest {max(ratios):.2f}, "
        f"median {statistics.median(ratios):.2f}, covered {sum(r <= 1 for r in ratios)}"
    )
    answer, full = statistics.median(quick), statistics.median(slow)
    print(f"deflection with bound {1e3 * answer:.2f} ms, a full solve {full:.2f} s: "
          f"{full / answer:,.0f} times faster")  # fmt: skip
    told, field = [], []
    for at in points[:10]:
        start = time.perf_counter()
        instant.answer(at)
        told.append(time.perf_counter() - start)
        start = time.perf_counter()
        instant.field.von_mises(model.answer(at).weights, at)
        field.append(time.perf_counter() - start)
    print(f"with the plates' peak stresses {1e3 * statistics.median(told):.1f} ms, "
          f"full stress field {1e3 * statistics.median(field):.0f} ms")  # fmt: skip


if __name__ == "__main__":
    main()
