"""A small server on this computer alone, for as long as its page is open."""

import asyncio
import socket
from collections.abc import Callable
from time import monotonic

import uvicorn

from routesolar.plan.answering import Desk
from routesolar.plan.app import Pages
from routesolar.plan.folder import Folder
from routesolar.plan.guard import Guard

QUIET_S = 600.0  # without a word from the page, after which the server ends
LOOK_S = 1.0
LEAVE_S = 3  # at the end, for what is being answered; clients that never finish asking are not waited for


class Session:
    """One page and its server: made, told where it is, run until the page is gone."""

    def __init__(self, folder: Folder, quiet_s: float = QUIET_S) -> None:
        """Take a free port of this computer alone."""
        self.folder, self.quiet_s = folder, quiet_s
        self._socket = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        self._socket.bind(("127.0.0.1", 0))
        self.guard = Guard(self._socket.getsockname()[1])
        self._server: uvicorn.Server | None = None

    @property
    def address(self) -> str:
        """The address to open, once."""
        return self.guard.address

    def run(self, started: Callable[[], None] = lambda: None) -> None:
        """Serve until the page has been closed for a while; `started` is called when it can be opened."""
        try:
            asyncio.run(self._serve(started))
        finally:
            self._socket.close()
            self.folder.leave()

    def end(self) -> None:
        """End soon; from any thread."""
        if self._server is not None:
            self._server.should_exit = True

    async def _serve(self, started: Callable[[], None]) -> None:
        pages = Pages(Desk(self.folder), self.guard)
        config = uvicorn.Config(
            pages.app(),
            log_config=None,
            access_log=False,
            lifespan="off",
            server_header=False,
            ws="none",
            timeout_graceful_shutdown=LEAVE_S,
        )
        self._server = uvicorn.Server(config)
        watching = asyncio.create_task(self._watch(pages, started))
        await self._server.serve(sockets=[self._socket])
        watching.cancel()

    async def _watch(self, pages: Pages, started: Callable[[], None]) -> None:
        """Call when the server has started; end it when nothing was heard for long."""
        assert self._server is not None
        while not self._server.started:
            await asyncio.sleep(0.02)
        await asyncio.to_thread(started)  # a browser may take its time
        while True:
            await asyncio.sleep(min(LOOK_S, self.quiet_s / 4))
            if pages.is_busy:
                pages.heard_s = monotonic()
            if monotonic() - pages.heard_s > self.quiet_s:
                self._server.should_exit = True
