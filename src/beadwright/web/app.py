"""The bench as an application: route -> library -> frozen page -> template that computes nothing.

Pages work without JavaScript, state lives in the URL, a case has a JSON twin, all JSON errors share one shape (RFC 9457).
"""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from datetime import datetime
from functools import cache
from typing import TYPE_CHECKING, Any

from fastapi import FastAPI, Request
from fastapi.responses import FileResponse, HTMLResponse, JSONResponse, RedirectResponse, Response
from fastapi.staticfiles import StaticFiles
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, UploadFile
from starlette.exceptions import HTTPException

from beadwright import __version__
from beadwright.errors import BeadwrightError, CaseChangedError, InputError, NotFoundError, StoreError
from beadwright.report.sheet import stylesheet
from beadwright.shop.store import Handed, Store
from beadwright.web.desk import Desk
from beadwright.web.guard import Guard, TooLarge
from beadwright.web.pages import NewPage, ProblemPage, library_page
from beadwright.web.pictures import picture_type

if TYPE_CHECKING:
    from jinja2 import Environment

    from beadwright.shop.location import ShopLocation

MOST_FILES = 50
FRAGMENT = "fragment=reranked"
SEE_OTHER = 303


def create_app(
    location: ShopLocation, *, read_only: bool = False, now: Callable[[], datetime] | None = None
) -> FastAPI:
    """Return the bench over the shop at `location`. `read_only` refuses every change; `now` is the clock."""
    store = Store.open(location)
    desk = Desk(store)
    clock = now or (lambda: datetime.now().astimezone())

    @asynccontextmanager
    async def lifespan(_: FastAPI) -> AsyncIterator[None]:
        yield
        store.dispose()

    app = FastAPI(title="beadwright", version=__version__, docs_url=None, redoc_url=None, lifespan=lifespan)
    app.add_middleware(Guard)
    app.mount("/static", StaticFiles(packages=[("beadwright.web", "static")]))
    _add_problems(app)
    _add_looking(app, desk, clock)
    if not read_only:
        _add_changing(app, desk)
    return app


@cache
def templates() -> Environment:
    """The bench's templates, the notebook's entries among them; everything is escaped."""
    from jinja2 import ChoiceLoader, Environment, PackageLoader, StrictUndefined

    loader = ChoiceLoader([PackageLoader("beadwright.web"), PackageLoader("beadwright.report")])
    made = Environment(
        loader=loader, autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    made.globals.update(version=__version__, here="")
    return made


def _page(template: str, page: object, *, here: str = "", status: int = 200) -> HTMLResponse:
    return HTMLResponse(templates().get_template(template).render(page=page, here=here), status)


def _add_looking(app: FastAPI, desk: Desk, clock: Callable[[], datetime]) -> None:
    @app.get("/static/notebook.css", include_in_schema=False)
    def notebook() -> Response:
        return Response(stylesheet(), media_type="text/css")

    # The mount above would shadow this route: routes are matched in order, so it goes first.
    app.router.routes.insert(0, app.router.routes.pop())

    @app.get("/", response_class=HTMLResponse)
    def bench() -> Response:
        return _page("bench.html", desk.bench_page(clock()), here="bench")

    @app.get("/new", response_class=HTMLResponse)
    def new() -> Response:
        return _page("new.html", _blank_page(), here="new")

    @app.get("/cases/{number:int}.json")
    def case_twin(number: int) -> Response:
        row = desk.store.get(number)
        workup = desk.workup(row)
        return JSONResponse({
            "format": "beadwright.case/1", "number": row.number, "status": row.status, "revision": row.revision,
            "case": workup.case.model_dump(mode="json", exclude_defaults=True),
            "diagnosis": workup.diagnosis.model_dump(mode="json"),
        })  # fmt: skip

    @app.get("/cases/{number:int}", response_class=HTMLResponse)
    def case(number: int) -> Response:
        return _page("case.html", desk.case_page(number))

    @app.get("/cases/{number:int}/exhibits/{sha256}")
    def exhibit(number: int, sha256: str) -> Response:
        found = [one for one in desk.store.get(number).exhibits if one.sha256 == sha256]
        if not found:
            raise NotFoundError(f"case {number} holds no such exhibit")
        path = desk.store.exhibit_path(sha256)
        shown = picture_type(path)
        headers = {
            "content-security-policy": "default-src 'none'; sandbox",
            "cache-control": "private, max-age=86400",
        }
        if shown:
            return FileResponse(path, media_type=shown, headers=headers)
        return FileResponse(
            path, media_type="application/octet-stream", filename=found[0].name, headers=headers
        )

    @app.get("/library/{table}", response_class=HTMLResponse)
    def library(table: str, word: str = "") -> Response:
        if table not in ("causes", "signs", "checks"):
            raise NotFoundError(
                f"the library has no table {table!r}", fix="look into causes, signs or checks"
            )
        return _page("library.html", library_page(desk.knowledge, table, word), here="library")


def _add_changing(app: FastAPI, desk: Desk) -> None:
    store = desk.store

    @app.post("/cases")
    async def open_case(request: Request) -> Response:
        async with request.form(max_files=MOST_FILES) as form:
            return await run_in_threadpool(_open_case, desk, form)

    @app.post("/cases/{number:int}/exhibits")
    async def add_exhibits(request: Request, number: int) -> Response:
        async with request.form(max_files=MOST_FILES) as form:
            await run_in_threadpool(_add_exhibits, store, number, form)
        return RedirectResponse(f"/cases/{number}#exhibits", SEE_OTHER)

    def changing(path: str, anchor: str, change: Callable[[int, FormData, int | None], Any]) -> None:
        async def handler(request: Request, number: int) -> Response:
            async with request.form() as form:
                await run_in_threadpool(change, number, form, _revision(form))
            if FRAGMENT in request.headers.get("accept", ""):
                page = await run_in_threadpool(desk.case_page, number)
                return _page("reranked.html", page)
            return RedirectResponse(f"/cases/{number}{anchor}", SEE_OTHER)

        app.post(f"/cases/{{number:int}}/{path}", name=path)(handler)

    changing(
        "answers",
        "#checks",
        lambda number, form, revision: store.answer(
            number,
            _known(desk.knowledge.checks, _text(form, "check"), "check"),
            _text(form, "result"),
            revision=revision,
        ),
    )
    changing(
        "signs",
        "#story",
        lambda number, form, revision: store.set_sign(
            number,
            _known(desk.knowledge.signs, _text(form, "sign"), "sign"),
            _text(form, "present") == "yes",
            revision=revision,
        ),
    )
    changing("undo", "#checks", lambda number, form, revision: store.undo(number, revision=revision))
    changing("reopen", "", lambda number, form, revision: store.reopen(number, revision=revision))
    changing(
        "outcome",
        "",
        lambda number, form, revision: store.close(
            number,
            _known(desk.knowledge.causes, _text(form, "cause"), "cause") if _text(form, "cause") else None,
            _text(form, "other"),
            _text(form, "note"),
            revision=revision,
        ),
    )


def _open_case(desk: Desk, form: FormData) -> Response:
    from beadwright.case.quick import case_from_arguments
    from beadwright.shop.content import with_story

    handed = _handed(form)
    story, title = _text(form, "story"), _text(form, "title")
    try:
        if not story.strip() and not handed:
            raise InputError("there are no words and no files yet", fix="either is enough to begin")
        case = case_from_arguments((), story=story, material=_text(form, "material") or None,
                                   printer=_text(form, "printer") or None)  # fmt: skip
        case = with_story(case, None, title)
    except InputError as problem:
        page = _blank_page(problem=str(problem), story=story, title_given=title,
                           material=_text(form, "material"), printer=_text(form, "printer"))  # fmt: skip
        return _page("new.html", page, here="new", status=422)
    row = desk.store.new_case(case, exhibits=handed)
    return RedirectResponse(f"/cases/{row.number}", SEE_OTHER)


def _add_exhibits(store: Store, number: int, form: FormData) -> None:
    handed = _handed(form)
    if not handed:
        raise InputError("no file was chosen", fix="choose one or more files, then press Add")
    revision = _revision(form)
    for one in handed:
        store.add_exhibit(number, one.name, one.source, one.kind, one.note, revision=revision)
        revision = None if revision is None else revision + 1


def _blank_page(
    problem: str = "", story: str = "", title_given: str = "", material: str = "", printer: str = ""
) -> NewPage:
    from beadwright.knowledge.material_table import load_materials

    names = tuple(material.abbreviation for material in load_materials().values())
    return NewPage("New case", problem, story, title_given, material, printer, names)


def _handed(form: FormData) -> list[Handed]:
    files = [one for one in form.getlist("files") if isinstance(one, UploadFile) and one.filename]
    return [Handed(one.file, one.filename or "unnamed") for one in files]


def _text(form: FormData, name: str) -> str:
    value = form.get(name, "")
    return value if isinstance(value, str) else ""


def _revision(form: FormData) -> int | None:
    text = _text(form, "revision")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else None


def _known(table: dict[str, Any], entry: str, what: str) -> str:
    if entry not in table:
        raise NotFoundError(f"there is no {what} {entry[:60]!r}", fix=f"look into the library's {what}s")
    return entry


def _add_problems(app: FastAPI) -> None:
    @app.exception_handler(BeadwrightError)
    async def ours(request: Request, failure: BeadwrightError) -> Response:
        return _problem(request, _status(failure), str(failure), await _kept_words(request))

    @app.exception_handler(HTTPException)
    async def http(request: Request, failure: HTTPException) -> Response:
        sentence = "There is no such page." if failure.status_code == 404 else str(failure.detail)
        return _problem(request, failure.status_code, sentence)

    @app.exception_handler(TooLarge)
    async def large(request: Request, failure: TooLarge) -> Response:
        return _problem(request, 413, "That is larger than the bench takes at once.")


def _status(failure: BeadwrightError) -> int:
    if isinstance(failure, CaseChangedError):
        return 409
    if isinstance(failure, NotFoundError):
        return 404
    return 500 if isinstance(failure, StoreError) else 400


async def _kept_words(request: Request) -> str:
    """What was typed, to be shown again when it could not be stored."""
    if request.method != "POST" or not hasattr(request, "_form") or request._form is None:
        return ""
    words = [
        value
        for key, value in request._form.multi_items()
        if isinstance(value, str) and key in ("note", "other", "story")
    ]
    return "\n".join(word for word in words if word.strip())


def _problem(request: Request, status: int, sentence: str, kept: str = "") -> Response:
    if request.url.path.endswith(".json"):
        body = {"type": "about:blank", "title": sentence, "status": status}
        return JSONResponse(body, status, media_type="application/problem+json")
    number = request.path_params.get("number")
    back = (
        (f"/cases/{number}", "Back to the case as it is now")
        if number and status == 409
        else ("/", "Back to the bench")
    )
    titles = {404: "Not here", 409: "Changed meanwhile", 413: "Too large", 500: "Not stored"}
    page = ProblemPage(titles.get(status, "That could not be done"), sentence, *back, kept=kept)
    return _page("problem.html", page, status=status)
