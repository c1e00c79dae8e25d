"""Requests to the local page: right ones, wrong ones made of them, and what no answer may be."""

import asyncio
import contextlib
import io
import json
import random
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from copy import deepcopy
from functools import cache
from pathlib import Path
from typing import Any
from urllib.parse import unquote

from routesolar.plan.answering import Desk
from routesolar.plan.app import Pages
from routesolar.plan.folder import Folder
from routesolar.plan.guard import Guard

PORT = 4321
_SAID = {
    "base": ["road.gpx"],
    "quick": True,
    "words": {"depart": "2026-11-20 12:00", "speed": "60km/h", "canopy_cover": "40", "road_width": "12"},
    "sky": "broken",
    "stops": [{"at": "0.5km", "minutes": "45"}],
    "rig": {"panel": "200W", "battery": "900", "loads": [{"name": "fridge", "watts": "45", "when": "always"}]},
}
_RIGHT: tuple[tuple[str, str, object], ...] = (
    ("POST", "/answer", _SAID),
    ("POST", "/open", {"base": ["road.gpx"]}),
    ("PUT", "/files/other.gpx", "<gpx></gpx>"),
    ("PUT", "/files/rig.toml", "[[panel]]\nrated_w = 200\n"),
    ("POST", "/save", {**_SAID, "name": "friday", "replace": True}),
    ("GET", "/results/friday/page.html", None),
    ("POST", "/alive", None),
    ("GET", "/", None),
    ("GET", "/plan.js", None),
)
_ODD: tuple[Any, ...] = (
    *(None, True, -1, 1e308, "", "nan", [], {}, [[]], {"a": {}}, "../x", "/etc/hostname", "a\x00b", "\ud800"),
    *("<script>", "9" * 400, "km", "-5km", "1e9km", "2026-02-30 08:00", ["road.gpx"] * 300, "road.gpx"),
)
_PATHS = (
    *("/files/..%2f..%2fx.gpx", "/files/%2e%2e", "/results/..%2f/result.json", "/results/%2e%2e/road.gpx"),
    *(
        "//else/answer",
        "/answer/../files/a.gpx",
        "/%00",
        "/files/a%0d%0ab.gpx",
        "/results/x/y/z",
        "/" + "a" * 9000,
    ),
)


def right_request() -> bytes:
    """Return the request whose answer takes the whole chain."""
    return request_of(*_RIGHT[0])


def request_of(method: str, path: str, said: object, headers: dict[str, str] | None = None) -> bytes:
    body = said if isinstance(said, str) else "" if said is None else json.dumps(said)
    return json.dumps({"method": method, "path": path, "headers": headers or {}, "body": body}).encode()


def wrong_request(chance: random.Random, change: Callable[[bytes, random.Random], bytes]) -> bytes:
    """Return a request with something wrong in its address, its headers, its body or what the body says."""
    method, path, said = chance.choice([*_RIGHT, *_RIGHT[:1] * 6])
    what = chance.choice(["said", "said", "said", "body", "path", "method", "headers"])
    headers: dict[str, str] = {}
    if what == "said" and isinstance(said, dict):
        said = json.loads(json.dumps(said))
        for _ in range(chance.choice([1, 1, 2, 4])):
            _spoil(said, chance)
    elif what == "path":
        path = chance.choice(_PATHS)
    elif what == "method":
        method = chance.choice(["GET", "PUT", "POST", "DELETE", "OPTIONS", "HEAD", "PATCH", "X"])
    elif what == "headers":
        name = chance.choice(["host", "origin", "cookie", "sec-fetch-site", "content-type", "content-length"])
        headers[name] = chance.choice(
            ["", "x", "null", "https://else.example", "cross-site", "text/plain", "-1"]
        )
    else:
        text = said if isinstance(said, str) else json.dumps(said)
        said = change(text.encode(), chance).decode("latin-1")
    return request_of(method, path, said, headers)


def _spoil(said: Any, chance: random.Random) -> None:
    """Put something odd in one place of a table, at any depth."""
    while True:
        keys = list(said) if isinstance(said, dict) else list(range(len(said)))
        if not keys:
            return
        key = chance.choice(keys)
        if isinstance(said[key], dict | list) and said[key] and chance.random() < 0.7:
            said = said[key]
            continue
        said[key] = deepcopy(chance.choice(_ODD))  # what is put in may be spoiled next
        return


@cache
def _page(folder: Path) -> Pages:
    return Pages(Desk(Folder(folder)), Guard(PORT))


def wrong_answer(content: bytes, folder: Path) -> list[str]:
    """Ask a page whose folder this is, and return what is wrong with its answer."""
    try:
        asked = json.loads(content)
    except ValueError:
        return []
    pages, complaints = _page(folder), io.StringIO()
    beside = sorted(path.name for path in folder.parent.iterdir())
    # A thread of its own: a browser's driver may be running a loop in this one.
    with contextlib.redirect_stderr(complaints), ThreadPoolExecutor(max_workers=1) as other:
        status, headers, body = other.submit(lambda: asyncio.run(asked_of(pages, asked))).result()
    wrong = []
    if status not in (200, 204, 303, 307, 403, 404, 405):
        wrong.append(f"status {status}")
    if complaints.getvalue():
        wrong.append(f"on the terminal: {complaints.getvalue()[:300]}")
    if b"content-security-policy" not in headers:
        wrong.append("no policy")
    if status == 200 and headers.get(b"content-type", b"").startswith(b"application/json"):
        try:
            json.loads(body, parse_constant=lambda word: float(f"not {word}"))
        except ValueError as error:
            wrong.append(f"JSON with {error}")
    if sorted(path.name for path in folder.parent.iterdir()) != beside:
        wrong.append("something was written outside the folder")
    return wrong


async def asked_of(
    pages: Pages, asked: dict[str, Any], app: Any = None
) -> tuple[int, dict[bytes, bytes], bytes]:
    """Hand the application a request as a server would, and gather its answer."""
    guard = pages.guard
    cookie = f"routesolar_{PORT}={guard.secret}"
    own = {
        "host": guard.host,
        "origin": f"http://{guard.host}",
        "cookie": cookie,
        "sec-fetch-site": "same-origin",
    }
    own |= {"content-type": "application/json", **asked["headers"]}
    scope = {
        "type": "http",
        "asgi": {"version": "3.0"},
        "http_version": "1.1",
        "scheme": "http",
        "server": ("127.0.0.1", PORT),
        "client": ("127.0.0.1", 1),
        "method": asked["method"],
        "path": unquote(asked["path"]),
        "raw_path": asked["path"].encode("utf-8", "replace"),
        "query_string": b"",
        "headers": [(name.encode(), value.encode("latin-1", "replace")) for name, value in own.items()],
    }
    body = asked["body"].encode("utf-8", "surrogatepass")
    parts = [body[:100], body[100:]]
    told: dict[str, Any] = {"status": 0, "headers": {}, "body": b""}

    async def receive() -> dict[str, Any]:
        if not parts:
            return {"type": "http.disconnect"}
        part = parts.pop(0)
        return {"type": "http.request", "body": part, "more_body": bool(parts)}

    async def send(message: Any) -> None:
        if message["type"] == "http.response.start":
            told["status"], told["headers"] = message["status"], dict(message["headers"])
        else:
            told["body"] += message.get("body", b"")

    await (app or pages.app())(scope, receive, send)
    return told["status"], told["headers"], told["body"]
