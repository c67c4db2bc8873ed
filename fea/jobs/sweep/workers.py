"""Worker processes of this machine, each replaced as soon as it dies.

They are fresh interpreters with one thread for work: gmsh has one state for a whole process, and
it does not survive a fork. They stand in a session of their own, so that the interrupt key reaches
the command alone, and end by themselves when the scheduler is gone.
"""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from contextlib import suppress
from pathlib import Path

PATIENCE = 20
"""Workers in a row that may end with an exit code of their own before it is given up."""
_LOOK = 0.1
_GRACE = 5.0

_ONE_THREAD = {f"{library}_NUM_THREADS": "1" for library in ("NUMBA", "OMP", "OPENBLAS", "MKL")}


class Workers:
    """So many workers for a scheduler."""

    def __init__(self, address: str, count: int, scratch: Path):
        self.fault = ""
        """Why workers do not start, once that is given up."""
        self._log = scratch / "workers.log"
        self._command = [
            sys.executable, "-P", "-m", "distributed.cli.dask_worker", address, "--no-nanny",
            "--nthreads", "1", "--no-dashboard", "--memory-limit", "0", "--death-timeout", "60",
            "--local-directory", str(scratch),
        ]  # fmt: skip
        places = os.pathsep.join(os.path.abspath(place) for place in sys.path)
        self._environment = {**os.environ, **_ONE_THREAD, "PYTHONPATH": places}
        self._closed = threading.Event()
        self._running = [self._start() for _ in range(count)]
        self._watcher = threading.Thread(target=self._watch, daemon=True)
        self._watcher.start()

    def close(self) -> None:
        """End all of them."""
        self._closed.set()
        self._watcher.join()
        for process in self._running:
            process.terminate()
        for process in self._running:
            try:
                process.wait(_GRACE)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()

    def _start(self) -> subprocess.Popen[bytes]:
        with self._log.open("ab") as log:
            return subprocess.Popen(
                self._command,
                env=self._environment,
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                stderr=log,
                start_new_session=True,
            )

    def _watch(self) -> None:
        """Replace whoever dies; a signal is bad luck, an exit code again and again is a fault."""
        own_way = 0
        while not self._closed.wait(_LOOK):
            for place, process in enumerate(self._running):
                code = process.poll()
                if code is None:
                    continue
                own_way = own_way + 1 if code > 0 else 0
                if own_way >= PATIENCE:
                    self.fault = self._last_words() or f"exit code {code}"
                    return
                with suppress(OSError):  # no memory for a process now: at the next look
                    self._running[place] = self._start()

    def _last_words(self) -> str:
        lines = self._log.read_text(encoding="utf-8", errors="replace").split("\n")
        return next((line.strip() for line in reversed(lines) if line.strip()), "")
