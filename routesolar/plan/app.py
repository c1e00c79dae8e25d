"""The page's few addresses, each with its answer; nothing that goes wrong within one ends the server."""

import asyncio
import json
import sys
from collections import Counter
from collections.abc import AsyncIterator, Awaitable, Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import dataclass, field
from time import monotonic
from typing import Any

import jinja2
from starlette.applications import Starlette
from starlette.requests import ClientDisconnect, Request
from starlette.responses import FileResponse, JSONResponse, PlainTextResponse, Response
from starlette.routing import Route
from starlette.types import ASGIApp, Receive, Scope, Send

from routesolar.errors import InputError, RoutesolarError, UsageError
from routesolar.files.reading import printable
from routesolar.files.telling import heard_by
from routesolar.limits import limit_of
from routesolar.plan.answering import Desk, wrong_of
from routesolar.plan.guard import HEADERS, Guard
from routesolar.plan.pieces import plan_asset, plan_script, plan_style
from routesolar.plan.receiving import KINDS
from routesolar.version import SOFTWARE
from routesolar.wanted import while_wanted

MOST_SAID_BYTES = 200_000  # what the fields say is a few kilobytes
MOST_PASSED_BYTES = 8_000_000_000  # of a refused file; the page itself sends none that is larger than its limit
TELLING_FRAC = 0.1  # less done tells little of how long the rest takes
Answer = Callable[[Request], Awaitable[Response]]


class SupersededError(Exception):
    """A newer request has taken this one's place."""


@dataclass
class Doing:
    """What is answered ("answer", "decide"), words of what it is at, the share that is done, and since when."""

    what: str = ""
    words: str = ""
    done_frac: float = 0.0
    since_s: float = field(default_factory=monotonic)

    def told(self) -> dict[str, Any]:
        """Return it for the page; the seconds left are None until enough is done to tell."""
        spent_s = monotonic() - self.since_s
        left_s = None
        if self.done_frac >= TELLING_FRAC:
            left_s = spent_s * (1 - self.done_frac) / self.done_frac
        return {"what": self.what, "words": self.words, "done_frac": self.done_frac, "left_s": left_s}


class Pages:
    """The addresses of one session; `heard_s` is when the page was last heard of."""

    def __init__(self, desk: Desk, guard: Guard) -> None:
        """Take who answers and who may ask."""
        self.desk, self.guard = desk, guard
        self.heard_s = monotonic()
        self._turn, self._writing = asyncio.Lock(), asyncio.Lock()
        self._asked, self._doing_now = Counter[str](), Doing()  # how many, and what the last one's answer is at
        self._worker = ThreadPoolExecutor(max_workers=1, thread_name_prefix="plan")

    @property
    def is_busy(self) -> bool:
        """Whether something is being computed or written."""
        return self._turn.locked() or self._writing.locked()

    def app(self) -> ASGIApp:
        """Return the application, guarded."""
        routes = [
            Route("/", self._page),
            Route("/plan.js", lambda request: Response(plan_script(), media_type="text/javascript")),
            Route("/plan.css", lambda request: Response(plan_style(), media_type="text/css")),
            Route("/alive", self._alive, methods=["POST"]),
            Route("/files/{name}", _told(self._take_in), methods=["PUT"]),
            Route("/open", _told(self._open), methods=["POST"]),
            Route("/answer", _told(self._answer), methods=["POST"]),
            Route("/decide/{question}", _told(self._decide), methods=["POST"]),
            Route("/doing", self._doing, methods=["POST"]),
            Route("/save", _told(self._save), methods=["POST"]),
            Route("/results", _told(self._results), methods=["POST"]),
            Route("/results/{folder}/{file}", _told(self._written)),
        ]
        return _Guarded(Starlette(routes=routes), self)

    async def _page(self, request: Request) -> Response:
        if self.guard.spend(request.query_params.get("token", "")):
            return Response(status_code=303, headers={"Location": "/", "Set-Cookie": self.guard.cookie()})
        text = jinja2.Template(plan_asset("plan.html"), autoescape=True).render(
            software=SOFTWARE,
            folder=printable(str(self.desk.folder.root)),
            trips=self.desk.folder.trips(),
            limits={ending: limit_of(kind.limit) for ending, kind in KINDS.items()},
        )
        return Response(text, media_type="text/html")

    async def _alive(self, request: Request) -> Response:
        return Response(status_code=204)

    async def _take_in(self, request: Request) -> Response:
        parts = request.stream()
        try:
            with self.desk.folder.receive(request.path_params["name"]) as file:
                file.check_size(_stated_size(request))
                async for part in parts:
                    file.write(part)
                    self.heard_s = monotonic()
                return JSONResponse(await self._alone(lambda: self.desk.take_in(file)))
        except RoutesolarError:
            await _let_pass(parts)
            raise

    async def _open(self, request: Request) -> Response:
        said = await _said(request)
        self._asked["open"] += 1
        return JSONResponse(await self._alone(lambda: self.desk.open(said.get("base"))))

    async def _answer(self, request: Request) -> Response:
        said = await _said(request)
        return JSONResponse(await self._newest_alone("answer", lambda: self.desk.answer(said)))

    async def _decide(self, request: Request) -> Response:
        said, question = await _said(request), request.path_params["question"]
        return JSONResponse(await self._newest_alone("decide", lambda: self.desk.decide(question, said)))

    async def _doing(self, request: Request) -> Response:
        return JSONResponse(self._doing_now.told())

    async def _save(self, request: Request) -> Response:
        said = await _said(request)
        name, force = str(said.get("name", "")).strip(), said.get("replace") is True
        # A trip file takes no computing: it waits for nothing that is being computed.
        async with self._writing:
            return JSONResponse(await asyncio.to_thread(lambda: self.desk.save(said, name, force=force)))

    async def _results(self, request: Request) -> Response:
        said = await _said(request)
        name, force = str(said.get("name", "")).strip(), said.get("replace") is True
        self._asked["results"] += 1
        return JSONResponse(await self._alone(lambda: self.desk.write_results(said, name, force=force)))

    async def _written(self, request: Request) -> Response:
        file = request.path_params["file"]
        return FileResponse(self.desk.written(request.path_params["folder"], file), filename=file)

    async def _newest_alone(self, what: str, compute: Callable[[], dict[str, Any]]) -> dict[str, Any]:
        """Return what is computed, unless a newer one is asked meanwhile.

        Further questions give way to answers and to results that are to be written too, and both to a trip
        that is opened.
        """
        self._asked[what] += 1
        mine, doing = self._asked.copy(), Doing(what)

        def give_way(done_frac: float = 0.0) -> None:
            doing.done_frac = max(doing.done_frac, done_frac)
            newer = self._asked - mine
            if newer["answer"] or newer["open"] or (what == "decide" and newer):
                raise SupersededError

        def tell(words: str) -> None:
            doing.words = printable(words, 200)
            give_way()

        def computed() -> dict[str, Any]:
            self._doing_now = doing
            doing.since_s = monotonic()
            with while_wanted(give_way), heard_by(tell):
                give_way()
                return compute()

        try:
            return await self._alone(computed)
        finally:
            if self._doing_now is doing:
                self._doing_now = Doing()

    async def _alone(self, compute: Callable[[], dict[str, Any]]) -> dict[str, Any]:
        """Return what is computed, one computation after the other."""
        async with self._turn:
            return await asyncio.get_running_loop().run_in_executor(self._worker, compute)


class _Guarded:
    """Lets in who may ask, and gives every answer its headers."""

    def __init__(self, app: ASGIApp, pages: Pages) -> None:
        self.app, self.pages = app, pages

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        request = Request(scope)
        guard = self.pages.guard
        entering = request.url.path == "/" and guard.opens(request.query_params.get("token", ""))

        async def with_headers(message: Any) -> None:
            if message["type"] == "http.response.start":
                named = [(name.lower().encode(), value.encode()) for name, value in HEADERS.items()]
                message = {**message, "headers": [*message.get("headers", []), *named]}
            await send(message)

        refusal = guard.refusal(request.method, request.headers, entering=entering)
        if refusal:
            await PlainTextResponse(f"routesolar: {refusal}.\n", 403)(scope, receive, with_headers)
            return
        self.pages.heard_s = monotonic()
        await self.app(scope, receive, with_headers)


def _told(answer: Answer) -> Answer:
    """Return the same address with whatever goes wrong told in words."""

    async def telling(request: Request) -> Response:
        try:
            return await answer(request)
        except SupersededError:
            return JSONResponse({"superseded": True})
        except RoutesolarError as error:
            return JSONResponse({"wrong": wrong_of(error)})
        except Exception as error:
            words = f"this is a bug in routesolar; please report it: {type(error).__name__}: {error}"
            sys.stderr.write(f"{printable(words, 500)}\n")
            return JSONResponse({"wrong": {"": words}})

    return telling


async def _said(request: Request) -> dict[str, Any]:
    """Return what the page sent; UsageError for anything but a small JSON table."""
    if request.headers.get("content-type", "").partition(";")[0] != "application/json":
        raise UsageError("the page sent something else than JSON")
    try:
        said = json.loads(await _body(request, MOST_SAID_BYTES, "what the page says"))
        json.dumps(said, ensure_ascii=False).encode()  # halves of letters, which nothing can be named
    except (ValueError, RecursionError):
        raise UsageError("the page sent something else than JSON") from None
    if not isinstance(said, dict):
        raise UsageError("the page sent something else than a table")
    return said


def _stated_size(request: Request) -> int:
    """Return how many bytes a request says it brings; 0 where that is no number, since parts are counted."""
    said = request.headers.get("content-length", "")
    return int(said) if said.isdecimal() and len(said) < 20 else 0


async def _let_pass(parts: AsyncIterator[bytes]) -> None:
    """Let the rest of a refused file go by: a browser that is cut off while it sends never hears why."""
    left_bytes = MOST_PASSED_BYTES
    with suppress(ClientDisconnect):
        async for part in parts:
            left_bytes -= len(part)
            if left_bytes < 0:
                return


async def _body(request: Request, limit_bytes: int, what: str) -> bytes:
    """Return the request's body; InputError as soon as it is larger than the limit."""
    parts, size = [], 0
    async for part in request.stream():
        size += len(part)
        if size > limit_bytes:
            raise InputError(
                f"{printable(what, 80)}: larger than {limit_bytes / 1e6:g} MB; give a smaller file"
            )
        parts.append(part)
    return b"".join(parts)
