"""Runs and dossiers asked for by the page: one at a time, in processes of their own, in a queue."""

from __future__ import annotations

import itertools
import re
import subprocess
import threading
import time
from collections import deque
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from platestack.fea.app.page import child
from platestack.fea.support import scratch
from platestack.geometry.errors import UsageError

MOST_WAITING = 8
MOST_KEPT = 50
"""Finished jobs that are remembered."""
NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9 _-]{0,58}[A-Za-z0-9]|[A-Za-z0-9]")
"""What a run may be called: it becomes the name of a directory."""


@dataclass
class PageJob:
    """One run: ``waiting``, ``running``, ``done``, ``failed`` or ``cancelled``.

    Without the text of a case it is the dossier of the run that has the name.
    """

    number: int
    name: str
    text: str | None
    state: str = "waiting"
    step: str = ""
    steps: int = 0
    words: str = ""
    began: float = 0.0
    ended: float = 0.0

    def shown(self) -> dict[str, Any]:
        """State of the job, as the page shows it."""
        seconds = (self.ended or time.monotonic()) - self.began if self.began else 0.0
        told = ("number", "name", "state", "step", "steps", "words")
        kind = "run" if self.text is not None else "dossier"
        return {key: getattr(self, key) for key in told} | {"seconds": int(seconds), "kind": kind}


class Jobs:
    """The queue, and the thread that works it off."""

    def __init__(self, results: Path) -> None:
        self._results = results
        self._jobs: dict[int, PageJob] = {}
        self._waiting: deque[PageJob] = deque()
        self._numbers = itertools.count(1)
        self._changed = threading.Condition()
        self._process: subprocess.Popen[str] | None = None
        self._closed = False
        self._worker = threading.Thread(target=self._work, daemon=True)
        self._worker.start()

    def add(self, name: str, text: str | None) -> PageJob:
        """Queue a case, given as its text, or the dossier of a run.

        Raises
        ------
        UsageError
            If the name is not allowed, the same job is queued already, or the queue is full.
        """
        if not NAME.fullmatch(name):
            raise UsageError(
                "name: allowed: 1 to 60 letters a to z, digits, spaces, hyphens or underscores"
            )
        with self._changed:
            same = (j for j in self._jobs.values() if j.name == name and not _over(j))
            if any((j.text is None) == (text is None) for j in same):
                raise UsageError(f"name: {name} waits or runs already; allowed: another, or wait")
            if len(self._waiting) >= MOST_WAITING:
                raise UsageError(f"allowed: {MOST_WAITING} runs waiting; cancel one or wait")
            job = PageJob(next(self._numbers), name, text)
            self._jobs[job.number] = job
            self._waiting.append(job)
            for number in [n for n, j in self._jobs.items() if _over(j)][:-MOST_KEPT]:
                del self._jobs[number]
            self._changed.notify_all()
        return job

    def all(self) -> list[PageJob]:
        """Every job remembered, the newest first."""
        with self._changed:
            return list(self._jobs.values())[::-1]

    def cancel(self, number: int) -> None:
        """Take a waiting job out of the queue, or end the one that runs."""
        with self._changed:
            job = self._jobs.get(number)
            if job is None or _over(job):
                return
            running = job.state == "running"
            job.state = "cancelled"
            if not running:
                self._waiting.remove(job)
            process = self._process if running else None
        if process is not None:
            child.end(process)

    def close(self) -> None:
        """End what runs and forget what waits."""
        with self._changed:
            self._closed = True
            self._waiting.clear()
            running = [j.number for j in self._jobs.values() if j.state == "running"]
            self._changed.notify_all()
        for number in running:
            self.cancel(number)
        self._worker.join(2 * child.PATIENCE)

    def _work(self) -> None:
        while True:
            with self._changed:
                self._changed.wait_for(lambda: self._waiting or self._closed)
                if self._closed:
                    return
                job = self._waiting.popleft()
                job.state, job.began = "running", time.monotonic()
            self._run(job)
            job.ended = time.monotonic()

    def _run(self, job: PageJob) -> None:
        try:
            process = child.start("platestack.fea.app.page.worker")
        except OSError as error:
            job.state, job.words = "failed", f"the run could not be started: {error.strerror}"
            return
        with self._changed:
            self._process = process
            late = job.state == "cancelled"
        if late:  # cancelled between leaving the queue and starting
            child.end(process)
        place = str(self._results / job.name)
        child.send(process, {"name": job.name, "text": job.text, "out": place})
        self._listen(job, process)

    def _listen(self, job: PageJob, process: subprocess.Popen[str]) -> None:
        words = ""
        for line in process.stdout or ():
            kind, _, text = line.rstrip("\n").partition(" ")
            if kind == "step":
                job.step, job.steps = text, job.steps + 1
            else:
                words = f"{words}\n{text}".strip()
        code = process.wait()
        child.release(process)
        # of one that had to be killed, or was
        scratch.clear(scratch.prefix_of(self._results / job.name), self._results)
        with self._changed:
            self._process = None
            if job.state == "cancelled":
                job.words = "cancelled; no results are left half-written"
                return
            job.state = "done" if code in (0, 1) else "failed"
            job.words = words or ("" if code in (0, 1) else "the run ended before it was complete")


def _over(job: PageJob) -> bool:
    return job.state in ("done", "failed", "cancelled")
