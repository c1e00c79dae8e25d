"""A web server on the loopback that serves one file, well or badly."""

import re
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

LIES = ("always the first bytes", "shifted", "shifted and says so", "nothing but zeros", "the whole file")
MANNERS = ("ranges", "no ranges", "stalls", "stalls later", "missing", "cut", "rubbish", "refuses", *LIES)


class Server(ThreadingHTTPServer):
    """Serves the bytes of one file and remembers what was asked."""

    daemon_threads = True
    block_on_close = False

    def __init__(self, data: bytes, manner: str) -> None:
        assert manner in MANNERS
        super().__init__(("127.0.0.1", 0), _Handler)
        self.data, self.manner = data, manner
        self.asked: list[str] = []
        self.sent = 0

    def handle_error(self, request: object, client_address: object) -> None:
        """Say nothing: a client that has read enough hangs up."""


class _Handler(BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"
    server: Server

    def log_message(self, format: str, *args: object) -> None:
        pass

    def do_HEAD(self) -> None:
        self._answer(body=False)

    def do_GET(self) -> None:
        self._answer(body=True)

    def _answer(self, body: bool) -> None:
        server = self.server
        server.asked.append(f"{self.command} {self.path} {self.headers.get('Range', '')}".strip())
        if server.manner == "stalls" or (server.manner == "stalls later" and len(server.asked) > 2):
            time.sleep(3)
            return
        data = b"rubbish " * (len(server.data) // 8) if server.manner == "rubbish" else server.data
        status = {"missing": 404, "refuses": 403}.get(server.manner, 200)
        wanted = re.fullmatch(r"bytes=(\d+)-(\d*)", self.headers.get("Range", ""))
        headers = {}
        if status != 200:
            data = b"no"
        elif wanted and server.manner != "no ranges":
            first, last = int(wanted[1]), min(int(wanted[2] or len(data) - 1), len(data) - 1)
            headers["Content-Range"], data = _part(data, server.manner, first, last)
            status = 206
        self.send_response(status)
        for name, value in headers.items():
            self.send_header(name, value)
        if server.manner != "no ranges":
            self.send_header("Accept-Ranges", "bytes")
        self.send_header("Content-Length", str(len(data)))
        self.end_headers()
        if not body:
            return
        if server.manner == "cut" and len(server.asked) > 2:
            data = data[: len(data) // 2]
            self.close_connection = True
        server.sent += len(data)
        with suppress(ConnectionError):  # a client may have read enough
            self.wfile.write(data)


def _part(data: bytes, manner: str, first: int, last: int) -> tuple[str, bytes]:
    """Return what the header says of the part asked for and what is sent; lies begin after the first byte."""
    header, part = f"bytes {first}-{last}/{len(data)}", data[first : last + 1]
    if first == 0 or manner not in LIES:
        return header, part
    if manner == "always the first bytes":
        part = data[: len(part)]
    elif manner == "nothing but zeros":
        part = bytes(len(part))
    elif manner == "the whole file":
        part = data
    else:
        part = data[first - 100 : last - 99]
    if manner == "shifted and says so":
        header = f"bytes {first - 100}-{last - 100}/{len(data)}"
    return header, part


@contextmanager
def serving(path: str, manner: str = "ranges") -> Iterator[tuple[Server, str]]:
    """Yield a running server and the address of the file."""
    server = Server(Path(path).read_bytes(), manner)
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True)
    thread.start()
    try:
        yield server, f"http://127.0.0.1:{server.server_port}/{Path(path).name}"
    finally:
        server.shutdown()
        server.server_close()
