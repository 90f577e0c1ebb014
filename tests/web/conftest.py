"""A bench on a free port over an empty shop, and the system's Chromium to look at it with."""

from __future__ import annotations

import shutil
import socket
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
import uvicorn
from fastapi import FastAPI
from playwright.sync_api import Browser, Page, sync_playwright

from beadwright.shop.location import find_shop
from beadwright.shop.store import Store
from beadwright.web.app import create_app

CHROMIUM = next((path for name in ("chromium", "chromium-browser") if (path := shutil.which(name))), None)
FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip
EXAMPLE = Path(__file__).parent.parent.parent / "examples" / "tern-lane"


@dataclass(frozen=True)
class Bench:
    """A running bench."""

    url: str
    store: Store
    app: FastAPI


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    location = find_shop(tmp_path / "shop", environment={})
    app = create_app(location)
    listener = socket.create_server(("127.0.0.1", 0))
    server = uvicorn.Server(uvicorn.Config(app, log_level="error", lifespan="on"))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]}, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.01)
    store = Store.open(location)
    yield Bench(f"http://127.0.0.1:{listener.getsockname()[1]}", store, app)
    store.dispose()
    server.should_exit = True
    thread.join(timeout=10)
    listener.close()


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    if CHROMIUM is None:
        pytest.fail("the browser tests need Chromium; `make test` installs it, or says how")
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield opened
        opened.close()


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    context = browser.new_context()
    opened = context.new_page()
    opened.set_default_timeout(20_000)
    yield opened
    context.close()
