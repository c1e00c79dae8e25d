"""Who may ask: only the page that was opened with the token, in the same browser and from the same address."""

import secrets
from collections.abc import Mapping
from dataclasses import dataclass, field
from http.cookies import CookieError, SimpleCookie

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cache-Control": "no-store",
}


@dataclass
class Guard:
    """The address that the page is served from, its token, good for once, and the secret it is changed for."""

    port: int
    token: str = field(default_factory=lambda: secrets.token_urlsafe(24))
    secret: str = field(default_factory=lambda: secrets.token_urlsafe(32))

    @property
    def host(self) -> str:
        """What the Host header must say."""
        return f"127.0.0.1:{self.port}"

    @property
    def address(self) -> str:
        """The address to open, once."""
        return f"http://{self.host}/?token={self.token}"

    def cookie(self) -> str:
        """Return the header that hands the secret to the browser; no script and no other site can use it."""
        return f"{self._name}={self.secret}; Path=/; HttpOnly; SameSite=Strict"

    def opens(self, token: str) -> bool:
        """Tell whether this is the token, and not spent."""
        return bool(self.token) and secrets.compare_digest(token.encode(), self.token.encode())

    def spend(self, token: str) -> bool:
        """Tell whether this is the token, which is then worth nothing any more."""
        if not self.opens(token):
            return False
        self.token = ""
        return True

    def refusal(self, method: str, headers: Mapping[str, str], *, entering: bool) -> str:
        """Return why a request is refused, empty if it is not; `entering` is with a token, not the secret."""
        if headers.get("host") != self.host:
            return "this page is served on this computer alone"
        origin = headers.get("origin")
        if method not in ("GET", "HEAD") and origin != f"http://{self.host}":
            return "only the page itself may ask"
        if not entering and headers.get("sec-fetch-site", "none") not in ("same-origin", "none"):
            return "only the page itself may ask"
        if not entering and not secrets.compare_digest(self._given(headers).encode(), self.secret.encode()):
            return (
                "this address was opened before, or in another browser. Go back to that page, or start "
                "routesolar plan again"
            )
        return ""

    @property
    def _name(self) -> str:
        return f"routesolar_{self.port}"

    def _given(self, headers: Mapping[str, str]) -> str:
        try:
            morsel = SimpleCookie(headers.get("cookie", "")).get(self._name)
        except CookieError:
            return ""
        return "" if morsel is None else morsel.value
