"""The press as a frame: elastic stacks, and rods and seats that only pull or only press."""

from __future__ import annotations

from platestack.fea.solid.frame.springs import Frame, SpringState, Unheld
