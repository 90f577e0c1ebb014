"""The pages that only look: bench, new case, case sheet and its JSON twin, exhibits, library."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from fastapi import APIRouter
from fastapi.responses import FileResponse, HTMLResponse, JSONResponse, Response

from beadwright.errors import NotFoundError
from beadwright.report.sheet import stylesheet
from beadwright.web.desk import Desk
from beadwright.web.pages import TABLES, NewPage, library_page
from beadwright.web.pictures import picture_type
from beadwright.web.render import page_of

CANNOT_RUN = {"content-security-policy": "default-src 'none'; sandbox", "cache-control": "private, max-age=86400"}


def looking(desk: Desk, clock: Callable[[], datetime]) -> APIRouter:
    """Return the routes that change nothing."""
    router = APIRouter()

    @router.get("/static/notebook.css", include_in_schema=False)
    def notebook() -> Response:
        return Response(stylesheet(), media_type="text/css")

    @router.get("/", response_class=HTMLResponse)
    def bench() -> Response:
        return page_of("bench.html", desk.bench_page(clock()), here="bench")

    @router.get("/new", response_class=HTMLResponse)
    def new() -> Response:
        return page_of("new.html", blank_page(), here="new")

    @router.get("/cases/{number:int}.json")
    def case_twin(number: int) -> Response:
        return JSONResponse(twin_of(desk, number))

    @router.get("/cases/{number:int}", response_class=HTMLResponse)
    def case(number: int) -> Response:
        return page_of("case.html", desk.case_page(number))

    @router.get("/cases/{number:int}/exhibits/{sha256}")
    def exhibit(number: int, sha256: str) -> Response:
        return exhibit_of(desk, number, sha256)

    @router.get("/library/{table}", response_class=HTMLResponse)
    def library(table: str, word: str = "") -> Response:
        if table not in TABLES:
            raise NotFoundError(f"the library has no table {table!r}", fix=f"look into {', '.join(TABLES)}")
        return page_of("library.html", library_page(desk.knowledge, table, word), here="library")

    return router


def twin_of(desk: Desk, number: int) -> dict[str, object]:
    """Return a case and its answer for machines."""
    row = desk.store.get(number)
    workup = desk.workup(row)
    return {
        "format": "beadwright.case/1",
        "number": row.number,
        "status": row.status,
        "revision": row.revision,
        "case": workup.case.model_dump(mode="json", exclude_defaults=True),
        "diagnosis": workup.diagnosis.model_dump(mode="json"),
    }


def exhibit_of(desk: Desk, number: int, sha256: str) -> Response:
    """Hand out an exhibit so that it cannot run: a picture in place, anything else as a download."""
    found = [one for one in desk.store.get(number).exhibits if one.sha256 == sha256]
    if not found:
        raise NotFoundError(f"case {number} holds no such exhibit")
    path = desk.store.exhibit_path(sha256)
    shown = picture_type(path)
    if shown:
        return FileResponse(path, media_type=shown, headers=CANNOT_RUN)
    return FileResponse(path, media_type="application/octet-stream", filename=found[0].name, headers=CANNOT_RUN)


def blank_page(
    problem: str = "", story: str = "", title_given: str = "", material: str = "", printer: str = ""
) -> NewPage:
    """The new-case form, with what was typed so far."""
    from beadwright.knowledge.material_table import load_materials

    names = tuple(material.abbreviation for material in load_materials().values())
    return NewPage("New case", problem, story, title_given, material, printer, names)
