"""Connections to the page: idle ones give way to new ones, so that nobody blocks it with many."""

from __future__ import annotations

import asyncio
import itertools

from uvicorn.protocols.http.h11_impl import H11Protocol

MOST = 100
"""At a time; a browser opens six. Each answers one request after the other."""

_numbers = itertools.count()


class Connection(H11Protocol):
    """One connection; where there are too many it ends one that has nothing to answer.

    Any user of the machine can open connections and leave them so, without the page's key.
    """

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Make room for it; where all are busy it is ended itself."""
        self.number = next(_numbers)
        super().connection_made(transport)
        others = [c for c in self.connections if isinstance(c, Connection) and c is not self]
        there = [c for c in others if not c.transport.is_closing()]
        if len(there) >= MOST:
            idle = [c for c in there if c.idle()]
            first = min(idle, key=lambda c: (c.cycle is not None, c.number), default=self)
            first.transport.close()

    def idle(self) -> bool:
        """Whether no request has come, or each has been answered."""
        return self.cycle is None or self.cycle.response_complete
