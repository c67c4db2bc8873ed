"""The proof test of a run: what to expect step by step, and what the measured readings say."""

from __future__ import annotations

import datetime
import json
from dataclasses import asdict, dataclass
from pathlib import Path

from fea import pictures
from fea.proof import measured
from fea.proof.measured import Fit
from fea.proof.plan import Plan, Step, as_csv, as_json, blank, make
from fea.proof.readings import SHOWN, Reading
from geometry.errors import PlatestackError

__all__ = ["SHOWN", "Comparison", "Fit", "Plan", "Reading", "Step", "compare", "make", "write"]


@dataclass(frozen=True)
class Comparison:
    """Fits of all instruments that were read, and what they mean in words."""

    fits: tuple[Fit, ...]
    reasons: tuple[str, ...]


def write(folder: Path, factor: float = 1.25) -> Plan:
    """Plan the test and put ``proof.json``, ``.csv``, ``.png`` and ``proof-readings.csv`` there.

    Raises
    ------
    PlatestackError
        If there is no whole run, or the files cannot be written.
    """
    plan, _, press = make(folder, factor)
    try:
        (folder / "proof.json").write_text(
            json.dumps(as_json(plan), indent=2, ensure_ascii=False) + "\n", encoding="utf-8"
        )
        (folder / "proof.csv").write_text(as_csv(plan), encoding="utf-8")
        if not (folder / "proof-readings.csv").exists():  # may be filled in already
            (folder / "proof-readings.csv").write_text(blank(plan), encoding="utf-8")
        pictures.proof_picture(press, _curves(plan, ()), folder / "proof.png")
    except OSError as error:
        raise PlatestackError(f"{folder}: cannot be written: {error.strerror or error}") from None
    return plan


def compare(folder: Path, file: Path, factor: float = 1.25) -> tuple[Plan, Comparison]:
    """Compare measured readings; adds to ``proof-record.json``, draws ``proof-measured.png``.

    Raises
    ------
    UsageError
        If the file is bad, with its line; then nothing is written.
    """
    plan, summary, press = make(folder, factor)
    series = measured.read(file, plan)
    fits = tuple(measured.fit(one, press.working_pressure) for one in series)
    outcome = Comparison(fits, tuple(measured.reasons(fits, plan, summary)))
    record = folder / "proof-record.json"
    try:
        kept = json.loads(record.read_text(encoding="utf-8")) if record.exists() else []
        kept.append({
            "time": datetime.datetime.now(datetime.UTC).isoformat(timespec="seconds"),
            "file": file.name,
            "readings": {
                s.reading.name: {"pressure": s.pressure.tolist(), "value": s.value.tolist()}
                for s in series
            },
            **asdict(outcome),
        })  # fmt: skip
        fresh = record.with_suffix(".new.json")
        fresh.write_text(json.dumps(kept, indent=2, ensure_ascii=False) + "\n", encoding="utf-8")
        fresh.replace(record)
        pictures.proof_picture(press, _curves(plan, series), folder / "proof-measured.png")
    except (OSError, ValueError, AttributeError) as error:
        raise PlatestackError(f"{record}: cannot be kept ({error})") from None
    return plan, outcome


def _curves(plan: Plan, series: tuple[measured.Series, ...]) -> list[pictures.ProofCurve]:
    read = {s.reading.name: s for s in series}
    top = max(plan.steps, key=lambda step: step.share)
    curves = []
    for r in plan.readings:
        scale, unit = SHOWN[r.kind]
        shares = [top.share * i / 24 for i in range(25)]
        band: list[tuple[float, float, float, float]] = []
        for share in shares:
            least, value, largest = (v / scale for v in r.band(share))
            band.append((share / top.share * top.pressure / 1e6, least, value, largest))
        points = read.get(r.name)
        curves.append(pictures.ProofCurve(
            r.name, unit.replace("um", "µm"), r.at, tuple(band),
            () if points is None else tuple(zip((points.pressure / 1e6).tolist(),
                                                (points.value / scale).tolist(), strict=True)),
        ))  # fmt: skip
    return curves
