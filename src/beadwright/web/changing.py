"""What changes a case. Each form posts here, with the revision it was filled in from; a stale one changes nothing."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, UploadFile

from beadwright.errors import InputError, NotFoundError
from beadwright.shop.store import Handed, Store
from beadwright.web.desk import Desk
from beadwright.web.looking import blank_page
from beadwright.web.render import page_of

MOST_FILES = 50
FRAGMENT = "fragment=reranked"
SEE_OTHER = 303

Change = Callable[[Desk, int, FormData, int | None], object]


def changing(desk: Desk) -> APIRouter:
    """Return the routes that change the shop."""
    router = APIRouter()

    @router.post("/cases")
    async def open_case(request: Request) -> Response:
        async with request.form(max_files=MOST_FILES) as form:
            return await run_in_threadpool(_open_case, desk, form)

    @router.post("/cases/{number:int}/exhibits")
    async def add_exhibits(request: Request, number: int) -> Response:
        async with request.form(max_files=MOST_FILES) as form:
            await run_in_threadpool(_add_exhibits, desk.store, number, form)
        return RedirectResponse(f"/cases/{number}#exhibits", SEE_OTHER)

    for path, (anchor, change) in CHANGES.items():
        router.post(f"/cases/{{number:int}}/{path}", name=path)(_handler(desk, anchor, change))
    return router


def _handler(desk: Desk, anchor: str, change: Change) -> Callable[..., object]:
    async def handler(request: Request, number: int) -> Response:
        async with request.form() as form:
            await run_in_threadpool(change, desk, number, form, _revision(form))
        if FRAGMENT in request.headers.get("accept", ""):
            return page_of("reranked.html", await run_in_threadpool(desk.case_page, number))
        return RedirectResponse(f"/cases/{number}{anchor}", SEE_OTHER)

    return handler


def _answer(desk: Desk, number: int, form: FormData, revision: int | None) -> None:
    check = _known(desk.knowledge.checks, _text(form, "check"), "check")
    desk.store.answer(number, check, _text(form, "result"), revision=revision)


def _sign(desk: Desk, number: int, form: FormData, revision: int | None) -> None:
    sign = _known(desk.knowledge.signs, _text(form, "sign"), "sign")
    desk.store.set_sign(number, sign, _text(form, "present") == "yes", revision=revision)


def _undo(desk: Desk, number: int, form: FormData, revision: int | None) -> None:
    desk.store.undo(number, revision=revision)


def _reopen(desk: Desk, number: int, form: FormData, revision: int | None) -> None:
    desk.store.reopen(number, revision=revision)


def _close(desk: Desk, number: int, form: FormData, revision: int | None) -> None:
    cause = _text(form, "cause") or None
    if cause is not None:
        _known(desk.knowledge.causes, cause, "cause")
    desk.store.close(number, cause, _text(form, "other"), _text(form, "note"), revision=revision)


CHANGES: dict[str, tuple[str, Change]] = {
    "answers": ("#checks", _answer),
    "signs": ("#story", _sign),
    "undo": ("#checks", _undo),
    "reopen": ("", _reopen),
    "outcome": ("", _close),
}


def _open_case(desk: Desk, form: FormData) -> Response:
    from beadwright.case.quick import case_from_arguments
    from beadwright.shop.content import with_story

    handed = _handed(form)
    story, title = _text(form, "story"), _text(form, "title")
    material, printer = _text(form, "material"), _text(form, "printer")
    try:
        if not story.strip() and not handed:
            raise InputError("there are no words and no files yet", fix="either is enough to begin")
        case = case_from_arguments((), story=story, material=material or None, printer=printer or None)
        row = desk.store.new_case(with_story(case, None, title), exhibits=handed)
    except InputError as problem:
        page = blank_page(str(problem), story, title, material, printer)
        return page_of("new.html", page, here="new", status=422)
    return RedirectResponse(f"/cases/{row.number}", SEE_OTHER)


def _add_exhibits(store: Store, number: int, form: FormData) -> None:
    handed = _handed(form)
    if not handed:
        raise InputError("no file was chosen", fix="choose one or more files, then press Add")
    revision = _revision(form)
    for one in handed:
        store.add_exhibit(number, one.name, one.source, one.kind, one.note, revision=revision)
        revision = None if revision is None else revision + 1


def _handed(form: FormData) -> list[Handed]:
    files = [one for one in form.getlist("files") if isinstance(one, UploadFile) and one.filename]
    return [Handed(one.file, one.filename or "unnamed") for one in files]


def _text(form: FormData, name: str) -> str:
    value = form.get(name, "")
    return value if isinstance(value, str) else ""


def _revision(form: FormData) -> int | None:
    text = _text(form, "revision")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else None


def _known(table: Mapping[str, object], entry: str, what: str) -> str:
    if entry not in table:
        raise NotFoundError(f"there is no {what} {entry[:60]!r}", fix=f"look into the library's {what}s")
    return entry
