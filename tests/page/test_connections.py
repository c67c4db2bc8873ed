"""Many connections, held open by somebody without the key: the page is answered all the same."""

from __future__ import annotations

import contextlib
import socket
import time
import urllib.parse

import pytest

from platestack.fea.app.page import connections
from tests.figures import hostile_requests as hostile
from tests.figures.page_server import serving


@pytest.mark.parametrize("said", [b"", b"GET / HTTP/1.1\r\nHost: ", b"POST /x HTTP/1.1\r\n"])
def test_connections_that_wait_block_nobody(served, said):
    visitor = hostile.Visitor(served[1])
    host = urllib.parse.urlsplit(served[1])
    with contextlib.ExitStack() as stack:
        for _ in range(2 * connections.MOST + 10):
            one = socket.create_connection((host.hostname, host.port), 10)
            stack.enter_context(one)
            with contextlib.suppress(OSError):  # it was ended already
                one.sendall(said)
        assert [visitor.send("GET", "/state")[0] for _ in range(5)] == [200] * 5


@pytest.mark.slow
def test_strangers_write_nothing_into_the_terminal(tmp_path, capfd):
    with serving(tmp_path) as address:
        host = urllib.parse.urlsplit(address)
        for said in (b"\x16\x03\x01\r\n\r\n", b"GET / HTTP/1.1\r\nHost: x\r\nUpgrade: websocket\r\n"
                     b"Connection: upgrade\r\n\r\n"):  # fmt: skip
            with socket.create_connection((host.hostname, host.port), 10) as one:
                one.sendall(said)
                assert one.recv(100)
    assert capfd.readouterr().err == ""


@pytest.mark.slow
def test_the_end_waits_for_no_one(tmp_path, capfd):
    """A request whose body never comes, and one that takes long, do not keep the server."""
    with serving(tmp_path) as address:
        visitor = hostile.Visitor(address)
        host = urllib.parse.urlsplit(address)
        asked = {"Host": host.netloc, **visitor.own, "Content-Length": "100"}
        head = "".join(f"{name}: {value}\r\n" for name, value in asked.items())
        one = socket.create_connection((host.hostname, host.port), 10)
        one.sendall(f"POST {host.path}check HTTP/1.1\r\n{head}\r\n".encode())
        assert visitor.send("GET", "/state")[0] == 200
        start = time.monotonic()
    one.close()
    assert time.monotonic() - start < 15
    assert capfd.readouterr().err == ""
