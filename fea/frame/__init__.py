"""The press as a frame: elastic stacks, and rods and seats that only pull or only press."""

from __future__ import annotations

from fea.frame.springs import Frame, State, Unheld

__all__ = ["Frame", "State", "Unheld"]
