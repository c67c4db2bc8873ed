"""Reduced models of one case at a time: made in a child process, kept beside the results.

Models tell of a press only if it differs from the one that they were made for in nothing but
thicknesses; they compare that themselves.
"""

from __future__ import annotations

import subprocess
import threading
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from platestack.fea.app.page import child
from platestack.fea.jobs.options import models
from platestack.fea.solid.reduced import ReducedResult
from platestack.geometry import case as case_file
from platestack.geometry.parts import Press
from platestack.geometry.schema import Case

FOLDER = ".instant"


@dataclass
class _Making:
    """``none``, ``making``, ``ready``, ``failed`` or ``cancelled``."""

    state: str = "none"
    step: str = ""
    began: float = 0.0
    ended: float = 0.0


class InstantService:
    """The models at hand, and at most one child that makes others."""

    def __init__(self, results: Path) -> None:
        self._folder = results / FOLDER
        self._models: models.Models | None = None
        self._process: subprocess.Popen[str] | None = None
        self._now = _Making()
        self._changing = threading.Lock()

    def shown(self) -> dict[str, Any]:
        """How far it is, for the page."""
        now = self._now
        seconds = (now.ended or time.monotonic()) - now.began if now.began else 0.0
        return {"state": now.state, "step": now.step, "seconds": int(seconds)}

    def make(self, text: str) -> None:
        """Begin to make the models of a case; what is being made for another ends."""
        with self._changing:
            self._end()
            now = self._now = _Making("making", "start", time.monotonic())
            try:
                self._process = process = child.start("platestack.fea.app.page.training")
            except OSError as error:
                now.state, now.step = "failed", f"could not be started: {error.strerror}"
                return
            child.send(process, {"text": text, "folder": str(self._folder)})
            threading.Thread(target=self._listen, args=(process, now, text), daemon=True).start()

    def cancel(self) -> None:
        """End what is being made."""
        with self._changing:
            self._end()

    def told(self, case: Case, press: Press) -> dict[str, ReducedResult]:
        """What is known of the stacks of a press; models made for it earlier are found again."""
        known = self._known(press)
        if not known and self._folder.is_dir() and self._now.state != "making":
            kept = models.kept(case, self._folder)
            if kept.models:
                self._models = kept
                known = self._known(press)
        return known

    def _known(self, press: Press) -> dict[str, ReducedResult]:
        if self._models is None:
            return {}
        told = {stack.name: self._models(press, stack) for stack in press.stacks}
        return {name: found for name, found in told.items() if found is not None}

    def _end(self) -> None:
        process, self._process = self._process, None
        if process is not None and self._now.state == "making":
            self._now.state, self._now.ended = "cancelled", time.monotonic()
            child.end(process)

    def _listen(self, process: subprocess.Popen[str], now: _Making, text: str) -> None:
        words = "the process ended before it was complete"
        for line in process.stdout or ():
            word, _, said = line.rstrip("\n").partition(" ")
            if word == "step":
                now.step = said
            else:
                words = said
        code = process.wait()
        child.release(process)
        if now.state != "making":
            return
        if code == 0:
            self._models = models.kept(case_file.parse(text), self._folder)
            now.state, now.ended = "ready", time.monotonic()
        else:
            now.state, now.step, now.ended = "failed", words, time.monotonic()
