"""The local web page: edit a case, run it, slide thicknesses, compare runs, take the files.

Served on the loopback address only. What the browser asks for passes `fea.app.page.guard` first.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from platestack.geometry.errors import UsageError

HOST = "127.0.0.1"
PATIENCE = 2
"""Seconds at the end for answers under way."""


def serve(folder: Path, port: int, tell: Callable[[str], None] = print) -> None:
    """Serve the page for the cases and results under `folder` until interrupted.

    Raises
    ------
    UsageError
        If the port cannot be had.
    """
    import secrets
    import socket

    import uvicorn

    from platestack.fea.app.page import connections
    from platestack.fea.app.page.instant import InstantService
    from platestack.fea.app.page.jobs import Jobs
    from platestack.fea.app.page.server import application

    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((HOST, port))
    except (OSError, OverflowError) as error:
        listener.close()
        raise UsageError(
            f"--port: given {port}; {getattr(error, 'strerror', None) or error}; allowed: a free "
            "port from 1024 to 65535, or 0 for any"
        ) from None
    found = listener.getsockname()[1]
    listener.listen(64)  # now a browser that is quick with the address waits, and is not refused
    jobs, instant = Jobs(folder / "results"), InstantService(folder / "results")
    key = secrets.token_urlsafe(24)
    tell(f"http://{HOST}:{found}/{key}/")
    tell("It answers only on this machine, and only at this whole address. Ctrl+C ends it.")
    config = uvicorn.Config(
        application(folder, found, jobs, instant, key),
        http=connections.Connection,
        ws="none",
        log_level="critical",  # anybody on this machine could fill the terminal with warnings
        timeout_graceful_shutdown=PATIENCE,
        access_log=False,
        server_header=False,
    )
    try:
        uvicorn.Server(config).run(sockets=[listener])
    finally:
        jobs.close()
        instant.cancel()
        listener.close()
