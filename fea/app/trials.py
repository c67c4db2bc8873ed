"""What a self-test finds: a part put to work, a value beside a published one."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Trial:
    """A part put to work: what was found, or what is wrong and what helps."""

    name: str
    passed: bool
    found: str
    advice: str = ""
    seconds: float = 0.0


@dataclass(frozen=True)
class PublishedComparison:
    """A computed value beside the published one; `limit` is the largest relative deviation."""

    name: str
    value: float
    published: float
    unit: str
    limit: float
    source: str

    @property
    def deviation(self) -> float:
        """Relative."""
        return self.value / self.published - 1

    @property
    def passed(self) -> bool:
        """Whether the deviation is within its limit."""
        return abs(self.deviation) <= self.limit
