"""The bench as an application: route -> library -> frozen page -> template that computes nothing.

Pages work without JavaScript, state lives in the URL, a case has a JSON twin.

    guard.py  what is refused       looking.py  the pages         desk.py    store, knowledge, answers worked out
    render.py templates             changing.py the forms         problems.py  failures as sentences
"""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from datetime import datetime
from typing import TYPE_CHECKING

from fastapi import FastAPI
from fastapi.staticfiles import StaticFiles

from beadwright import __version__
from beadwright.shop.store import Store
from beadwright.web.changing import changing
from beadwright.web.desk import Desk
from beadwright.web.guard import Guard
from beadwright.web.looking import looking
from beadwright.web.problems import add_problems

if TYPE_CHECKING:
    from beadwright.shop.location import ShopLocation


def create_app(
    location: ShopLocation, *, read_only: bool = False, now: Callable[[], datetime] | None = None
) -> FastAPI:
    """Return the bench over the shop at `location`. `read_only` refuses every change; `now` is the clock."""
    store = Store.open(location)
    desk = Desk(store)

    @asynccontextmanager
    async def lifespan(_: FastAPI) -> AsyncIterator[None]:
        yield
        store.dispose()

    app = FastAPI(title="beadwright", version=__version__, docs_url=None, redoc_url=None, lifespan=lifespan)
    app.add_middleware(Guard)
    add_problems(app)
    app.include_router(looking(desk, now or (lambda: datetime.now().astimezone())))
    if not read_only:
        app.include_router(changing(desk))
    app.mount("/static", StaticFiles(packages=[("beadwright.web", "static")]))
    return app
