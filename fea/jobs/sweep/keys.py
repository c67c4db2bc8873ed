"""Under which key a row is kept: a hash of all that it depends on."""

from __future__ import annotations

import hashlib
import json

from platestack.fea.jobs.options.candidates import Candidate
from platestack.fea.support.digest import code
from platestack.geometry.schema import Case

__all__ = ["code", "key"]


def key(case: Case, candidate: Candidate, method: str, code: str) -> str:
    """Content hash of an option: case, changes, method and code."""
    told = [case.model_dump(mode="json"), candidate.changes, method, code]
    text = json.dumps(told, sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()
