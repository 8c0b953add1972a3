"""A log-in service for tests, on this machine: OpenID Connect Core 1.0, the authorisation code flow (section 3.1), discovery and keys.

Whoever the test has set signs in without being asked. RSA with SHA-256 by the library joserfc, which Authlib brings along.
"""

from __future__ import annotations

import json
import threading
import time
import urllib.parse
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from collections.abc import Iterator

CLIENT = "sherds"


class Service:
    """The service. person: claims of whoever signs in next."""

    def __init__(self) -> None:
        self.key = pytest.importorskip("joserfc.jwk").RSAKey.generate_key(
            2048, {"kid": "test", "alg": "RS256", "use": "sig"}
        )
        self.person: dict[str, Any] = {}
        self.asked: dict[str, str] = {}
        self.server = ThreadingHTTPServer(("localhost", 0), _handler(self))
        self.address = f"http://localhost:{self.server.server_address[1]}"

    def configuration(self) -> dict[str, Any]:
        """OpenID Connect Discovery 1.0, section 3."""
        return {
            "issuer": self.address,
            "authorization_endpoint": f"{self.address}/authorize",
            "token_endpoint": f"{self.address}/token",
            "jwks_uri": f"{self.address}/keys",
            "response_types_supported": ["code"],
            "subject_types_supported": ["public"],
            "id_token_signing_alg_values_supported": ["RS256"],
            "scopes_supported": ["openid", "email", "profile"],
            "code_challenge_methods_supported": ["S256"],
        }

    def token(self, nonce: str) -> str:
        """An identity token of the person."""
        now = int(time.time())
        claims = {"iss": self.address, "aud": CLIENT, "iat": now, "exp": now + 600, "nonce": nonce, **self.person}
        return str(pytest.importorskip("joserfc.jwt").encode({"alg": "RS256", "kid": "test"}, claims, self.key))


def _handler(service: Service) -> type[BaseHTTPRequestHandler]:
    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            at = urllib.parse.urlsplit(self.path)
            if at.path == "/.well-known/openid-configuration":
                self.answer(service.configuration())
            elif at.path == "/keys":
                self.answer({"keys": [service.key.as_dict(private=False)]})
            elif at.path == "/authorize":
                asked = dict(urllib.parse.parse_qsl(at.query))
                service.asked["nonce"] = asked.get("nonce", "")
                back = urllib.parse.urlencode({"code": "once", "state": asked["state"]})
                self.send_response(302)
                self.send_header("Location", f"{asked['redirect_uri']}?{back}")
                self.end_headers()
            else:
                self.send_error(404)

        def do_POST(self) -> None:
            self.rfile.read(int(self.headers.get("Content-Length", 0)))
            token = service.token(service.asked.get("nonce", ""))
            self.answer({"access_token": "x", "token_type": "Bearer", "expires_in": 600, "id_token": token})

        def answer(self, content: dict[str, Any]) -> None:
            body = json.dumps(content).encode()
            self.send_response(200)
            self.send_header("Content-Type", "application/json")
            self.send_header("Content-Length", str(len(body)))
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, *_: object) -> None:
            """Say nothing."""

    return Handler


@contextmanager
def log_in_service() -> Iterator[Service]:
    """Run it on a free port of this machine."""
    service = Service()
    thread = threading.Thread(target=service.server.serve_forever, daemon=True)
    thread.start()
    try:
        yield service
    finally:
        service.server.shutdown()
        service.server.server_close()
        thread.join()
