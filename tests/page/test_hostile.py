"""Requests that are not the page's own, and files with hostile names: all refused, all counted.

Sources for what is tried: OWASP cheat sheets on cross-site request forgery (token, Origin), path
traversal and content security policy; DNS rebinding as in RFC 9110, 7.2 (Host).
"""

from __future__ import annotations

import http.client
import json
import random
import re
import urllib.parse

import pytest


@pytest.fixture(scope="module")
def ask(served):
    """Send one request as raw as the standard library allows: status, headers, body."""
    host, key = urllib.parse.urlsplit(served[1])[1:3]

    def send(method, path, body=None, *, key=key.rstrip("/"), **headers):
        path = key + path
        connection = http.client.HTTPConnection(host, timeout=30)
        try:
            given = {"Host": host, **{k.replace("_", "-"): v for k, v in headers.items()}}
            connection.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
            for key, value in given.items():
                if value is not None:
                    connection.putheader(key, value)
            if body is not None and "content-length" not in given:
                connection.putheader("Content-Length", str(len(body)))
            connection.endheaders()
            if body is not None:
                connection.send(body)
            answer = connection.getresponse()
            return answer.status, dict(answer.getheaders()), answer.read()
        finally:
            connection.close()

    send.host = host
    return send


@pytest.fixture(scope="module")
def own(ask):
    """What the page itself sends with a request."""
    _, _, body = ask("GET", "/")
    token = re.search(rb'page-token" content="([^"]+)"', body)
    assert token
    return {
        "Origin": f"http://{ask.host}",
        "X_Page_Token": token[1].decode(),
        "Content_Type": "application/json",
    }


def test_the_pages_own_request_is_answered(ask, own):
    status, headers, body = ask("POST", "/check", b'{"data": {}}', **own)
    assert status == 200, body
    assert json.loads(body)["problems"]
    assert "default-src 'none'" in headers["content-security-policy"]
    assert "unsafe" not in headers["content-security-policy"]
    assert headers["x-content-type-options"] == "nosniff"


PATHS = [
    *(f"/runs/{run}/{file}"
      for run in ("..", "%2e%2e", "..%2f..", "earlier", "%2fetc", "earlier%00", ".", "%5c..", "*")
      for file in ("passwd", "..%2f..%2fsmall.toml", "%2e%2e%2fsummary.json", "../small.toml",
                   "summary.json%00.png", "....//small.toml", "%252e%252e%252fsmall.toml")),
    *(f"/static/{p}" for p in ("../server.py", "%2e%2e/server.py", "..%2fserver.py",
                               "....//server.py", "%2fetc%2fpasswd", "..%5cserver.py")),
    "/small.toml", "/results/earlier/summary.json", "//etc/passwd", "/../../etc/passwd",
]  # fmt: skip


def test_no_path_leads_out(ask):
    for path in PATHS:
        status, _, body = ask("GET", path)
        assert status in (400, 404), (path, status, body)
    print(f"\npath traversal: {len(PATHS)} of {len(PATHS)} refused")


def test_requests_of_others_are_refused(ask, own):
    body, sent = b'{"number": 1}', 0
    hosts = ["evil.example", "evil.example:80", f"{ask.host}.evil.example", "", "127.0.0.1",
             "0.0.0.0:80", "localhost", None]  # fmt: skip
    for host in hosts:
        for method in ("GET", "POST"):
            status, _, _ = ask(method, "/state", body, **{**own, "Host": host})
            assert status in (400, 421), (host, status)
            sent += 1
    for path in ("/open", "/start", "/check", "/run", "/cancel", "/model", "/forget"):
        for change in (
            {"Origin": None}, {"Origin": "null"}, {"Origin": "http://evil.example"},
            {"Origin": f"https://{ask.host}"}, {"Origin": f"http://{ask.host}.evil.example"},
            {"X_Page_Token": None}, {"X_Page_Token": "x"},
            {"X_Page_Token": own["X_Page_Token"][:-1]},
            {"Content_Type": None}, {"Content_Type": "text/plain"},
            {"Content_Type": "multipart/form-data"}, {"Sec_Fetch_Site": "cross-site"},
            {"Content_Type": "application/x-python-pickle"}, {"Sec_Fetch_Site": "same-site"},
        ):  # fmt: skip
            status, _, _ = ask("POST", path, body, **{**own, **change})
            assert status in (403, 415), (path, change, status)
            sent += 1
    for path in ("/state", "/form", "/runs/earlier/summary.json"):
        assert ask("GET", path, Sec_Fetch_Site="cross-site")[0] == 403
        sent += 1
    for method in ("PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "CONNECT"):
        assert ask(method, "/run", body, **own)[0] in (400, 405)
        sent += 1
    print(f"\nforeign host, origin, token, type, method: {sent} of {sent} refused")


def test_too_large_and_malformed_bodies(ask, own):
    assert ask("POST", "/open", b"x" * 1_000_001, **own)[0] == 413
    bodies = [b"", b"[]", b"null", b"1", b"{", b"\xff\xfe", b"[" * 200_000, b'{"data": 1}',
              b'{"data": {"a": ' + b"[" * 400 + b"]" * 400 + b"}}", b"\x80\x04}q\x00.",
              b'{"data": {"a": NaN}}', b'{"data": {"\\ud800": 1}}', b'{"text": "\\u0000"}',
              b'{"case": "../../etc/passwd"}', b'{"case": "/etc/passwd"}', b'{"text": 5}',
              b'{"thicknesses": {"bed": ["x"]}, "data": {}}', b'{"number": "1"}']  # fmt: skip
    for path in ("/open", "/start", "/check", "/run", "/cancel", "/model", "/forget"):
        for body in bodies:
            status, _, answer = ask("POST", path, body, **own)
            assert status < 500, (path, body[:40], answer)
            assert b"Traceback" not in answer
    print(f"\nmalformed bodies: {7 * len(bodies) + 1} answered without a fault")


def test_random_cases_never_break_it(ask, own, small_text):
    dice = random.Random(7)
    data = {"press": {"name": "<script>alert(1)</script>"}}
    values = [None, True, -1, 1e308, "", "1 mm", "<img src=x onerror=alert(1)>", [], {}, [[]],
              "'; DROP", "\u202e", "5 x 60 mm", ["1 mm"] * 3, {"shape": "round"},
              "=1+1"]  # fmt: skip
    for _ in range(150):
        made = json.loads(json.dumps(data))
        for table in ("press", "crosshead", "bed", "rods", "ram", "mesh", "limits"):
            key = dice.choice(["name", "plates", "length", "openings", "pitch", "x", "diameter"])
            made[table] = {**made.get(table, {}), key: dice.choice(values)}
        status, _, body = ask("POST", "/check", json.dumps({"data": made}).encode(), **own)
        assert status in (200, 422), (made, body)


@pytest.mark.parametrize(
    "name", ["../x", "", ".", "..", "a/b", "a\\b", "x" * 61, "a\x00b", ".hidden", "a\nb", "ä", "-"]
)
def test_names_of_runs_that_are_no_names(ask, own, small_text, name):
    given = {"text": small_text}
    data = json.loads(ask("POST", "/open", json.dumps(given).encode(), **own)[2])["data"]
    status, _, _ = ask("POST", "/run", json.dumps({"data": data, "name": name}).encode(), **own)
    assert status == 422


def test_names_are_escaped_in_the_drawing(ask, own, small_text):
    text = small_text.replace("Bench press", "</svg><script>alert(1)</script>")
    data = json.loads(ask("POST", "/open", json.dumps({"text": text}).encode(), **own)[2])["data"]
    answer = json.loads(ask("POST", "/check", json.dumps({"data": data}).encode(), **own)[2])
    assert answer["problems"] == []
    assert "<script>" not in answer["drawing"]
    assert "&lt;script&gt;" in answer["drawing"]
