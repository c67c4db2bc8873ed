"""The proof test of a run: what to expect step by step, and what the measured readings say."""

from __future__ import annotations

import datetime
import json
from dataclasses import asdict, dataclass
from pathlib import Path

from platestack.fea import pictures
from platestack.fea.jobs.proof import friction, measured
from platestack.fea.jobs.proof.friction import Hold
from platestack.fea.jobs.proof.measured import StraightFit
from platestack.fea.jobs.proof.plan import ProofPlan, as_csv, as_json, blank, make
from platestack.fea.jobs.proof.readings import pressure_shown, shown_as
from platestack.fea.results import run_directory, summary_file
from platestack.fea.results.run_directory import Run
from platestack.fea.solid.stack import Report
from platestack.geometry.errors import PlatestackError


@dataclass(frozen=True)
class ProofComparison:
    """Fits of all instruments that were read, and what they mean in words."""

    fits: tuple[StraightFit, ...]
    friction: tuple[Hold, ...]
    reasons: tuple[str, ...]

    @property
    def deviates(self) -> bool:
        """Whether any reading leaves its band, or friction is not what was assumed."""
        return any(one.deviates for one in self.fits) or any(one.deviates for one in self.friction)


def write(
    folder: Path, factor: float | None = None, report: Report = lambda step: None
) -> ProofPlan:
    """Plan the test and put ``proof.json``, ``.csv``, ``.png`` and ``proof-readings.csv`` there.

    Raises
    ------
    PlatestackError
        If there is no whole run, or the files cannot be written.
    """
    run = run_directory.reopen(folder)
    plan = make(run, factor, report)
    try:
        with run_directory.additions(folder) as made:
            (made / "proof.json").write_text(
                json.dumps(as_json(plan), indent=2, ensure_ascii=False) + "\n", encoding="utf-8"
            )
            (made / "proof.csv").write_text(as_csv(plan), encoding="utf-8")
            if not measured.begun(folder / "proof-readings.csv"):
                (made / "proof-readings.csv").write_text(blank(plan), encoding="utf-8")
            draw(plan, run, made / "proof.png")
    except OSError as error:
        raise PlatestackError(f"{folder}: cannot be written: {error.strerror or error}") from None
    return plan


def compare(
    folder: Path, file: Path, factor: float | None = None, report: Report = lambda step: None
) -> tuple[ProofPlan, ProofComparison]:
    """Compare measured readings; adds to ``proof-record.json``, draws ``proof-measured.png``.

    Raises
    ------
    UsageError
        If the file is bad, with its line; then nothing is written.
    """
    run = run_directory.reopen(folder)
    plan = make(run, factor, report)
    series = measured.read(file, plan)
    fits = tuple(measured.fit(one, run.press.capacity_pressure) for one in series)
    held = tuple(friction.found(series, run.press))
    said = (*friction.words(held, run.press), *measured.reasons(fits, plan, run.summary))
    comparison = ProofComparison(fits, held, said or (measured.AGREES,))
    record = folder / "proof-record.json"
    try:
        kept = summary_file.load_json(record) if record.exists() else []
        kept.append({
            "time": datetime.datetime.now(datetime.UTC).isoformat(timespec="seconds"),
            "file": file.name,
            "readings": {
                s.reading.name: {"pressure": s.pressure.tolist(), "value": s.value.tolist()}
                for s in series
            },
            **asdict(comparison),
        })  # fmt: skip
        with run_directory.additions(folder) as made:
            (made / record.name).write_text(
                json.dumps(kept, indent=2, ensure_ascii=False) + "\n", encoding="utf-8"
            )
            draw(plan, run, made / "proof-measured.png", series)
    except (OSError, ValueError, AttributeError) as error:
        raise PlatestackError(f"{record}: cannot be kept ({error})") from None
    return plan, comparison


def draw(plan: ProofPlan, run: Run, path: Path, series: tuple[measured.Series, ...] = ()) -> Path:
    """Draw where the instruments stand, what they should show and what was read, as PNG."""
    return pictures.proof_picture(
        run.press, _curves(plan, series), path, pressure_shown()[1].removeprefix("pressure_")
    )


def _curves(plan: ProofPlan, series: tuple[measured.Series, ...]) -> list[pictures.ProofCurve]:
    read = {s.reading.name: s for s in series}
    top = max(plan.steps, key=lambda step: step.share)
    curves, (pascals, _) = [], pressure_shown()
    ups = [top.share * i / 24 for i in range(25)]
    shares = [*ups, *ups[-2::-1]]  # up, and back where it is another way
    for r in plan.readings:
        scale, unit = shown_as(r.kind)
        bands = r.bands(shares if r.path else ups) / scale
        points = read.get(r.name)
        curves.append(pictures.ProofCurve(
            r.name, unit.replace("u", "µ"), r.at,
            tuple((share / top.share * top.pressure / pascals, *band)
                  for share, band in zip(shares, bands.tolist(), strict=False)),
            () if points is None else tuple(zip((points.pressure / pascals).tolist(),
                                                (points.value / scale).tolist(), strict=True)),
        ))  # fmt: skip
    return curves
