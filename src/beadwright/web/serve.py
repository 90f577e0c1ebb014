"""Run the bench on this machine's loopback address."""

from __future__ import annotations

import socket
import sys

from beadwright.errors import InputError

LOOPBACK = "127.0.0.1"


def run(shop: str | None, port: int) -> None:
    """Serve until interrupted; `shop` as in `shop.location.find_shop`. InputError when the port is taken."""
    import uvicorn

    from beadwright.shop.location import find_shop
    from beadwright.web.app import create_app

    location = find_shop(shop)
    listener = _listen(port)
    app = create_app(location)
    bound = listener.getsockname()[1]
    print(
        f"The bench is open at http://{LOOPBACK}:{bound}/  (shop: {location.name}; stop with Ctrl-C)",
        flush=True,
    )
    config = uvicorn.Config(app, log_level="warning", lifespan="on", server_header=False)
    uvicorn.Server(config).run(sockets=[listener])
    print("The bench is closed.", file=sys.stderr)


def _listen(port: int) -> socket.socket:
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((LOOPBACK, port))
    except OSError as failure:
        listener.close()
        raise InputError(f"port {port} cannot be used ({failure.strerror})", where="--port",
                         fix="choose another, or 0 for any free one") from failure  # fmt: skip
    return listener
