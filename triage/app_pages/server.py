"""The server of the pages: by which names it answers, and what a browser may do with its answers.

`triage app` starts it; the names are in `$TRIAGE_HOSTS`, with commas between. A page elsewhere that gives its
own name this machine's address gets no answer, so nothing in a browser but these pages reaches the record.
"""

from __future__ import annotations

import os

from starlette.datastructures import MutableHeaders
from starlette.middleware import Middleware
from starlette.middleware.trustedhost import TrustedHostMiddleware
from starlette.types import ASGIApp, Message, Receive, Scope, Send
from streamlit.starlette import App

from triage.shipped import shipped

# What the framework needs is inline styles, code made at run time (charts) and pictures as data.
_CONTENT = "; ".join(
    (
        "default-src 'self'",
        "script-src 'self' 'unsafe-inline' 'unsafe-eval' blob:",
        "style-src 'self' 'unsafe-inline'",
        "img-src 'self' data: blob:",
        "font-src 'self' data:",
        "worker-src 'self' blob:",
        "object-src 'none'",
        "base-uri 'self'",
        "form-action 'self'",
        "frame-ancestors 'none'",
    )
)
HEADERS = {
    "Content-Security-Policy": _CONTENT,
    "X-Frame-Options": "DENY",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "same-origin",
}


class _WithHeaders:
    """Sends the headers with every answer."""

    def __init__(self, app: ASGIApp):
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        async def told(message: Message) -> None:
            if message["type"] == "http.response.start":
                MutableHeaders(scope=message).update(HEADERS)
            await send(message)

        await self._app(scope, receive, told if scope["type"] == "http" else send)


app = App(
    shipped("app.py"),
    middleware=[
        Middleware(_WithHeaders),
        Middleware(
            TrustedHostMiddleware,
            allowed_hosts=os.environ.get("TRIAGE_HOSTS", "127.0.0.1,localhost").split(","),
            www_redirect=False,
        ),
    ],
)
