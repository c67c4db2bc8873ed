"""Under which key a row is kept: a hash of all that it depends on."""

from __future__ import annotations

import hashlib
import json

from platestack.fea.jobs.options.variation import Option
from platestack.geometry.schema import Case


def key(case: Case, option: Option, method: str, code: str) -> str:
    """Content hash of an option: case, changes, method and code."""
    told = [case.model_dump(mode="json"), option.changes, method, code]
    text = json.dumps(told, sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()
