"""Throw hostile requests at the local page and hostile names at all files; print what was held.

    python -m tests.figures.hostile_requests [COUNT]

COUNT (5000) requests of random grammar go beside the listed ones. Every line counts what was tried
and what was held: refused, or answered with a sentence, never with a traceback, a status of 500 or
a file from elsewhere; at the end the server must be alive and its queue empty.

Sources for what is tried: OWASP cheat sheets on cross-site request forgery (token, Origin), path
traversal, content security policy and CSV injection; DNS rebinding as in RFC 9110, 7.2 (Host).
"""

from __future__ import annotations

import contextlib
import copy
import http.client
import itertools
import json
import random
import re
import shutil
import string
import sys
import tempfile
import time
import urllib.parse
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from tests.figures import hostile_names
from tests.figures.page_server import ROOT, serving

ASKED = ("/open", "/start", "/check", "/run", "/dossier", "/cancel", "/model", "/forget")
SECRET = "# nobody but the user reads this"


@dataclass
class Count:
    """What was tried of a kind, and what came through."""

    tried: int = 0
    held: int = 0
    through: list[str] = field(default_factory=list)

    def note(self, held: bool, what: object) -> None:
        """Count one attempt; keep the first few that were not held."""
        self.tried += 1
        self.held += held
        if not held and len(self.through) < 5:
            self.through.append(ascii(what)[:300])


class Visitor:
    """Sends requests as raw as the standard library allows."""

    def __init__(self, address: str) -> None:
        parts = urllib.parse.urlsplit(address)
        self.host, self.key = parts.netloc, parts.path.strip("/")
        token = re.search(rb'page-token" content="([^"]+)"', self.send("GET", "/")[2])
        assert token
        self.own = {
            "Origin": f"http://{self.host}",
            "X-Page-Token": token[1].decode(),
            "Content-Type": "application/json",
        }

    def send(
        self, method: str, path: str, body: bytes | None = None,
        headers: dict[str, str | None] | None = None, key: str | None = None,
    ) -> tuple[int, dict[str, str], bytes]:  # fmt: skip
        """Status, headers and body of the answer; a header that is None is left out."""
        connection = http.client.HTTPConnection(self.host, timeout=60)
        given: dict[str, str | None] = {"Host": self.host, **(headers or {})}
        path = f"/{self.key}{path}" if key is None else f"{key}{path}"
        try:
            connection.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
            for name, value in given.items():
                if value is not None:
                    connection.putheader(name, value.encode("latin-1", "replace"))
            if body is not None and not {"Content-Length", "Transfer-Encoding"} & given.keys():
                connection.putheader("Content-Length", str(len(body)))
            connection.endheaders()
            if body is not None:
                with contextlib.suppress(OSError):  # refused before all of it was sent
                    connection.send(body)
            answer = connection.getresponse()
            return answer.status, dict(answer.getheaders()), answer.read()
        finally:
            connection.close()

    def ask(self, path: str, given: Any) -> tuple[int, Any]:
        """What the page itself would ask."""
        body = given if isinstance(given, bytes) else json.dumps(given).encode()
        status, _, answer = self.send("POST", path, body, self.own)
        return status, answer


def quiet(status: int, answer: bytes) -> bool:
    """Answered with a sentence."""
    return 200 <= status < 500 and b"Traceback" not in answer


def traversals(visitor: Visitor, dice: random.Random, count: int) -> Count:
    """Paths that would lead out of the results, plain, encoded once and twice."""
    found = Count()
    ups = ("..", "%2e%2e", "%252e%252e", "..%2f..", "%2e%2e%5c", "....", "..;", "%c0%ae%c0%ae", ".")
    goals = ("etc/passwd", "small.toml", "case.toml", "summary.json", "summary.json%00.png", "*",
             "server.py", "C:%5cboot.ini", "%2fetc%2fpasswd", "proc/self/environ",
             ".git/config")  # fmt: skip
    roots = ("/runs/earlier/", "/runs/", "/static/", "/viewer/", "/scene/", "/", "//", "/results/")
    paths = [r + "/".join([up] * n + [goal]) for r in roots for up in ups for goal in goals
             for n in (1, 3)]  # fmt: skip
    for path in dice.sample(paths, min(count, len(paths))):
        status, _, body = visitor.send("GET", path)
        secret = SECRET.encode() in body or b"root:" in body or b"import" in body
        found.note(status in (400, 403, 404) and not secret, (path, status, body[:80]))
    return found


def without_key(visitor: Visitor, dice: random.Random, count: int) -> Count:
    """Another user of the machine: everything asked without the key, or with another."""
    found = Count()
    keys = ["", "/", "/" + visitor.key[:-1], "/" + visitor.key + "x", "/" + visitor.key.swapcase(),
            "/%" + visitor.key, "//" + visitor.key, "/x/../" + visitor.key, "/null"]  # fmt: skip
    keys += ["/" + "".join(dice.choices(string.ascii_letters, k=32)) for _ in range(count)]
    for key in keys:
        for path in ("/", "/state", "/form", "/static/page.js", "/runs/earlier/summary.json", ""):
            status, _, _ = visitor.send("GET", path, key=key)
            found.note(status in (400, 403, 404), (key, path, status))
        status, _, _ = visitor.send("POST", "/run", b"{}", visitor.own, key=key)
        found.note(status in (400, 403, 404), (key, status))
    status, _, _ = visitor.send("GET", "", key="/" + visitor.key)  # the key, but no path under it
    found.note(status == 403, status)
    return found


def strangers(visitor: Visitor) -> Count:
    """Foreign hosts, origins, tokens, types and methods."""
    found, own, here = Count(), visitor.own, visitor.host
    hosts = ["evil.example", "evil.example:80", f"{here}.evil.example", "", "127.0.0.1",
             "localhost", "0.0.0.0:80", f"{here}@evil.example", f"user@{here}",
             f"{here},evil.example", None]  # fmt: skip
    for host, method in itertools.product(hosts, ("GET", "POST")):
        status, _, _ = visitor.send(method, "/state", b"{}", {**own, "Host": host})
        found.note(status in (400, 421), (host, method, status))
    changes: list[dict[str, str | None]] = [
        *({"Origin": o} for o in (None, "null", "", "http://evil.example", f"https://{here}",
                                  f"http://{here}.evil.example", "file://", "http://127.0.0.1:1")),
        *({"X-Page-Token": t} for t in (None, "", "x", own["X-Page-Token"][:-1], visitor.key)),
        *({"Content-Type": t} for t in (None, "", "text/plain", "multipart/form-data",
                                        "application/x-www-form-urlencoded", "application/xml",
                                        "application/x-python-pickle", "application/zip")),
        *({"Sec-Fetch-Site": s} for s in ("cross-site", "same-site", "evil")),
    ]  # fmt: skip
    for path, change in itertools.product(ASKED, changes):
        status, _, _ = visitor.send("POST", path, b"{}", {**own, **change})
        found.note(status in (403, 415), (path, change, status))
    for path in ("/state", "/form", "/runs/earlier/summary.json", "/scene/earlier"):
        status, _, _ = visitor.send("GET", path, None, {"Sec-Fetch-Site": "cross-site"})
        found.note(status == 403, (path, status))
    for method in ("PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "CONNECT", "HEAD", "PROPFIND"):
        status, _, _ = visitor.send(method, "/run", b"{}", own)
        found.note(status in (400, 405), (method, status))
    return found


def oversize(visitor: Visitor) -> Count:
    """Bodies that are too large, said to be, or said not to be."""
    found = Count()
    large = b'{"text": "' + b"x" * 1_000_001 + b'"}'
    chunked = b"%x\r\n%s\r\n0\r\n\r\n" % (len(large), large)
    for path in ASKED:
        for body, more in (
            (large, {}),
            (b"{}", {"Content-Length": "9" * 30}),
            (chunked, {"Transfer-Encoding": "chunked"}),
        ):
            status, _, _ = visitor.send("POST", path, body, {**visitor.own, **more})
            found.note(status in (400, 413), (path, list(more), status))
    status, answer = visitor.ask("/open", {"text": "#" * 300_000})
    found.note(status == 422, (status, answer))
    status, _, _ = visitor.send("GET", "/state?" + "x" * 100_000)
    found.note(400 <= status < 500, status)
    return found


def bad_names(visitor: Visitor, case: dict[str, Any], results: Path) -> Count:
    """Names of runs that are none: nothing is queued, nothing written."""
    found = Count()
    names = ["../x", "", ".", "..", "a/b", "a\\b", "x" * 61, "a\x00b", ".hidden", "a\nb", "ä", "-",
             " ", "con:", "a\u202eb", "%2e%2e", "a|b", "$(id)", "`id`", "-rf", "a;b", None, 5, [],
             {}]  # fmt: skip
    before = sorted(results.iterdir())
    for name in names:
        status, answer = visitor.ask("/run", {"data": case, "name": name})
        found.note(status == 422 and sorted(results.iterdir()) == before, (name, status, answer))
    _empty(visitor)
    return found


def _empty(visitor: Visitor) -> None:
    for job in json.loads(visitor.send("GET", "/state")[2])["jobs"]:
        visitor.ask("/cancel", {"number": job["number"]})


def queue(visitor: Visitor, case: dict[str, Any], count: int) -> Count:
    """More runs than may wait: the rest is refused with a sentence; all are cancelled after."""
    found = Count()
    taken = 0
    for number in range(count):
        status, answer = visitor.ask("/run", {"data": case, "name": f"flood {number}"})
        taken += status == 200
        found.note(status == 200 if number < 8 else status in (200, 422), (status, answer))
    found.note(8 <= taken <= 10, f"{taken} taken")
    _empty(visitor)
    end = time.monotonic() + 60
    while any(j["state"] in ("running", "waiting") for j in _jobs(visitor)):
        assert time.monotonic() < end, "the queue does not empty"
        time.sleep(0.1)
    return found


def _jobs(visitor: Visitor) -> list[dict[str, Any]]:
    return list(json.loads(visitor.send("GET", "/state")[2])["jobs"])


BODIES = [b"", b"[]", b"null", b"1", b"{", b"\xff\xfe", b"[" * 200_000, b'{"data": 1}',
          b'{"data": {"a": ' + b"[" * 400 + b"]" * 400 + b"}}", b"\x80\x04}q\x00.", b"1e999999",
          b'{"data": {"a": NaN}}', b'{"data": {"\\ud800": 1}}', b'{"text": "\\u0000"}',
          b'{"case": "../../etc/passwd"}', b'{"case": "/etc/passwd"}', b'{"text": 5}',
          b'{"thicknesses": {"bed": ["x"]}, "data": {}}', b'{"number": "1"}', b'{"number": true}',
          b'{"text": "a = ' + b"9" * 5000 + b'"}', b'{"data": {"a": 1' + b"0" * 4000 + b"}}",
          b'{"text": "a = ' + b"[" * 3000 + b'"}', b'{"data": {"press": {"name": {}}}, "text": []}',
          ]  # fmt: skip


def malformed(visitor: Visitor, case: dict[str, Any], dice: random.Random, count: int) -> Count:
    """Bodies that are no JSON, or are and mean nothing; then mutations of a sound one."""
    found = Count()
    for path, body in itertools.product(ASKED, BODIES):
        status, answer = visitor.ask(path, body)
        found.note(quiet(status, answer), (path, body[:60], status, answer[:200]))
    sound = json.dumps({"data": case, "text": "", "name": "."}).encode()
    for _ in range(count):
        body = bytearray(sound)
        for _ in range(dice.randint(1, 6)):
            at = dice.randrange(len(body))
            piece = dice.choice([b"\x00", b"\xff", b'"', b"{", b"[", b"}", b"\\u", b"1e9", b"null"])
            body[at : at + dice.randint(0, 8)] = piece
        path = dice.choice(["/check", "/open", "/start", "/run", "/cancel"])
        status, answer = visitor.ask(path, bytes(body))
        found.note(quiet(status, answer), (path, bytes(body), status, answer[:200]))
    return found


VALUES: list[Any] = [
    None, True, -1, 0, 1e308, 10**300, "", "1 mm", "-1 mm", "1e400 mm", "1 mm^9", "5 x 60 mm",
    "999999999 x 1 mm", "0 x 1 mm", "60", "60 mm; rm", "1 mm/mm/mm", "µm", "\u202e", "=1+1",
    "<img src=x onerror=alert(1)>", "'; DROP", "{{7*7}}", "../../x", [], {}, [[]], ["1 mm"] * 3,
    ["1 mm"] * 2000, {"shape": "round"}, {"kind": "loose"}, {"thickness": "1 mm", "count": 10**9},
    "250 tf", "32 MPa", "nan mm", "inf MPa", "1" * 5000, "m" * 5000, "1 " + "m*" * 3000,
]  # fmt: skip


def random_cases(
    visitor: Visitor, case: dict[str, Any], form: dict[str, Any], dice: random.Random, count: int
) -> Count:
    """Cases by the grammar of the form, sound ones with some values bad; as data and as text."""
    found = Count()
    for number in range(count):
        made = json.loads(json.dumps(case))
        for _ in range(dice.randint(1, 5)):
            _spoil(made, form, dice)
        if number % 3 == 2:
            text = "\n".join(f"{k} = {json.dumps(v)}" for k, v in made.items())
            at = dice.randrange(len(text))
            text = text[:at] + dice.choice(["]", '"', "'''", "\x00", "=", "[[a]]", "#"]) + text[at:]
            status, answer = visitor.ask("/open", {"text": text})
        else:
            moved = dice.choice([{}, {"thicknesses": {"bed": [dice.choice(VALUES)]}}])
            status, answer = visitor.ask("/check", {"data": made, "text": "", **moved})
        found.note(status in (200, 422) or (status == 400 and b"allowed" in answer),
                   (made, status, answer[:300]))  # fmt: skip
    return found


def _spoil(into: dict[str, Any], entry: dict[str, Any], dice: random.Random) -> None:
    """Put a bad value somewhere into a table, at a key of its own or at one it does not know."""
    field_ = dice.choice(entry["fields"])
    name, inner = field_["name"], into.get(field_["name"])
    if field_["kind"] == "table" and dice.random() < 0.9:
        if not isinstance(inner, dict):
            inner = into[name] = {}
        _spoil(inner, field_, dice)
    elif dice.random() < 0.05:
        into["".join(dice.choices(string.printable, k=5))] = copy.deepcopy(dice.choice(VALUES))
    else:
        into[name] = copy.deepcopy(dice.choice(VALUES))  # later ones may go into it


def everything(address: str, folder: Path, count: int) -> Iterable[tuple[str, Count]]:
    """All kinds, each with its count; the last line says whether the server lives."""
    visitor, dice = Visitor(address), random.Random(count)
    text = (folder / "small.toml").read_text(encoding="utf-8")
    case = json.loads(visitor.ask("/open", {"text": text})[1])["data"]
    form = json.loads(visitor.send("GET", "/form")[2])["form"]
    yield "paths that lead out", traversals(visitor, dice, max(60, count // 5))
    yield "without the key", without_key(visitor, dice, max(2, count // 100))
    yield "foreign host, origin, token, type, method", strangers(visitor)
    yield "bodies too large", oversize(visitor)
    yield "names that are none", bad_names(visitor, case, folder / "results")
    yield "malformed bodies", malformed(visitor, case, dice, count // 2)
    yield "random cases, data and text", random_cases(visitor, case, form, dice, count // 2)
    yield "more runs than may wait", queue(visitor, case, 8 + max(4, count // 100))
    alive = Count()
    status, answer = visitor.ask("/check", {"data": case, "text": text})
    alive.note(status == 200 and json.loads(answer)["problems"] == [], (status, answer[:200]))
    yield "the page's own request after all that", alive


def main(count: int = 5000, most_names: int = len(hostile_names.NAMES)) -> int:
    """Print the table; 1 if anything came through."""
    lost = 0
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "shop"
        folder.mkdir()
        shutil.copyfile(ROOT / "cases" / "small" / "small.toml", folder / "small.toml")
        run = folder / "results" / "earlier"
        hostile_names.make_run(folder / "small.toml", run)
        with (folder / "small.toml").open("a", encoding="utf-8") as file:
            file.write(f"\n{SECRET}\n")
        with serving(folder) as address:
            named = hostile_names.everything(run, most_names)
            names = ((kind, Count(*counts)) for kind, counts in named)
            for kind, found in itertools.chain(everything(address, folder, count), names):
                print(f"{kind:45} {found.tried:6} tried {found.held:6} held", flush=True)
                for what in found.through:
                    print(f"    came through: {what}")
                lost += found.tried - found.held
    return 1 if lost else 0


if __name__ == "__main__":
    sys.exit(main(*map(int, sys.argv[1:2])))
