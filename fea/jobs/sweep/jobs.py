"""What a worker does: evaluate one option."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass

from platestack.fea.jobs.options.by_hand import evaluate_by_hand
from platestack.fea.jobs.options.evaluation import Row, evaluate
from platestack.fea.jobs.options.variation import Option
from platestack.fea.support import digest
from platestack.geometry.errors import PlatestackError
from platestack.geometry.schema import Case

EVALUATORS: dict[str, Callable[[Case, Option], Row]] = {
    "full": evaluate,
    "beam": evaluate_by_hand,
}
"""By `fea.jobs.options.variation.METHODS`."""

_one_at_a_time = threading.Lock()
"""gmsh has one state for a whole process; a worker with several threads would corrupt it."""


@dataclass(frozen=True)
class SweepJob:
    """One option, and the code (`digest.code`) that must evaluate it."""

    case: Case
    option: Option
    method: str
    code: str


class OtherCode(PlatestackError):
    """A worker runs another platestack."""


def work(job: SweepJob) -> Row:
    """Evaluate an option; whatever goes wrong in it is a row with its reason.

    Raises
    ------
    OtherCode
        If this process runs another platestack than asked for.
    """
    if digest.code() != job.code:
        raise OtherCode(
            f"a worker runs platestack {digest.code()}, this is {job.code}; install the same on "
            "both"
        )
    try:
        with _one_at_a_time:
            return EVALUATORS[job.method](job.case, job.option)
    except Exception as error:
        words = " ".join(str(error).split())[:300]
        return Row(job.option.label, "failed", f"unexpected fault: {type(error).__name__}: {words}")
