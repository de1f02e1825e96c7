"""What the page answers: one function a request, each a few lines between the desk and a rendered part.

Without JavaScript every form posts and is answered by the whole page; the page's own script asks for the
changed parts only.
"""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator, Awaitable, Callable, Coroutine, Mapping
from contextlib import asynccontextmanager
from typing import Any

import numpy as np
from anyio.to_thread import run_sync
from starlette.applications import Starlette
from starlette.datastructures import FormData, UploadFile
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response, StreamingResponse
from starlette.routing import Route

from spectra.errors import CoatproofError, OutputError, StudyError, UsageError
from spectra.page.curves import Window, drawing, raw_sheaves
from spectra.page.desk import Desk
from spectra.page.fields import answer
from spectra.page.files import desk_of, library, result, static, study, zipped
from spectra.page.folder import place_upload
from spectra.page.nearby import near_html, within_reach
from spectra.page.places import LEFT_OUT, chosen_places
from spectra.page.results import STAGES
from spectra.page.sheet import page_html
from spectra.page.study_file import assign
from spectra.study.starter import starter_text

HEARTBEAT = 15.0  # seconds after which a silent stream says that it lives

Handler = Callable[[Request], Awaitable[Response]]


def make_application(
    desk: Desk, watch: Callable[[], Coroutine[Any, Any, None]], end: Callable[[], None]
) -> Starlette:
    """Return the application of one folder.

    Parameters
    ----------
    desk : Desk
    watch
        Runs as long as the page does, and keeps the desk up to the folder.
    end
        Ends the program.
    """

    @asynccontextmanager
    async def life(_: Starlette) -> AsyncIterator[None]:
        watching = asyncio.create_task(watch())
        yield
        watching.cancel()
        await run_sync(desk.worker.stop)

    application = Starlette(routes=list(_routes()), lifespan=life)
    application.state.desk, application.state.end = desk, end
    return application


def _routes() -> list[Route]:
    gets: dict[str, Handler] = {
        "/": sheet,
        "/events": events,
        "/parts": parts,
        "/curves": curves,
        "/near": near,
        "/assignments": assignments,
        "/study": study,
        "/everything.zip": zipped,
        "/result/{name:path}": result,
        "/static/{name}": static,
        "/library/plotly.js": library,
    }
    posts: dict[str, Callable[[Desk, FormData], Awaitable[None]]] = {
        "/places": say_places,
        "/guesses": keep_guesses,
        "/measured": say_measured,
        "/start": start,
        "/stop": stop,
    }
    return [
        *(Route(path, handler, methods=["GET"]) for path, handler in gets.items()),
        *(Route(path, _form(act), methods=["POST"]) for path, act in posts.items()),
        Route("/files", add_files, methods=["POST"]),
        Route("/close", close, methods=["POST"]),
    ]


# -- the sheet and what changes on it ------------------------------------------------------------------


async def sheet(request: Request) -> Response:
    """Answer with the whole page."""
    desk = desk_of(request)
    state = desk.show()
    return HTMLResponse(page_html(state, desk.board.tick))


async def parts(request: Request) -> Response:
    """Answer with the parts that changed since a count."""
    return JSONResponse(desk_of(request).board.since(_whole(request.query_params.get("since"))))


async def events(request: Request) -> Response:
    """Send the parts that change, as they change, for as long as the page is open."""
    board = desk_of(request).board
    seen = _whole(request.headers.get("last-event-id") or request.query_params.get("since"))

    async def stream(seen: int) -> AsyncIterator[str]:
        yield ": open\n\n"
        while True:
            if await board.wait(seen, HEARTBEAT):
                news = board.since(seen)
                seen = news["tick"]
                yield f"id: {seen}\ndata: {json.dumps(news)}\n\n"
            else:
                yield ": still here\n\n"

    return StreamingResponse(stream(seen), media_type="text/event-stream")


def _whole(text: str | None) -> int:
    """Return a count a request brings, 0 for anything else."""
    return int(text) if text is not None and text.isascii() and text.isdigit() and len(text) < 12 else 0


def _form(act: Callable[[Desk, FormData], Awaitable[None]]) -> Handler:
    """Make a handler of a function that takes a form; its error becomes a notice on the page."""

    async def handle(request: Request) -> Response:
        desk = desk_of(request)
        try:
            form = await _limited_form(request, desk.settings.form_kb * 1000)
            await act(desk, form)
        except CoatproofError as error:
            return _answered(request, desk, str(error), error)
        return _answered(request, desk)

    return handle


def _answered(request: Request, desk: Desk, notice: str = "", error: Exception | None = None) -> Response:
    """Answer a form: the changed parts for the script, the page itself without it."""
    desk.notice = notice
    state = desk.show()
    status = (
        200
        if error is None
        else 409
        if isinstance(error, StudyError)
        else 507
        if isinstance(error, OutputError)
        else 422
    )
    if "application/json" in request.headers.get("accept", ""):
        since = _whole(request.headers.get("x-since"))
        return JSONResponse({**desk.board.since(since), "notice": notice}, status)
    if error is None:
        return Response(status_code=303, headers={"location": "/"})
    return HTMLResponse(page_html(state, desk.board.tick), status)


async def _limited_form(request: Request, most_bytes: int, most_files: int = 0) -> FormData:
    """Read a form no longer than it may be; the rest is never taken in.

    Raises
    ------
    UsageError
        If it says it is longer, or is.
    """
    from starlette.exceptions import HTTPException

    too_long = UsageError(f"more than {most_bytes / 1e6:g} MB at once; send less at a time")
    said = request.headers.get("content-length", "")
    if not said.isdigit() or int(said) > most_bytes:
        raise too_long
    try:
        return await request.form(max_files=max(most_files, 1), max_fields=20000)
    except HTTPException as error:
        raise UsageError(f"the form cannot be read: {error.detail}") from None


# -- what a person says --------------------------------------------------------------------------------


async def say_places(desk: Desk, form: FormData) -> None:
    """Give the marked files their place."""
    files = [str(name) for name in form.getlist("file")]
    known = {row.name: row.place for row in desk.state().rows}
    places = chosen_places([name for name in files if name in known], _words(form))
    leaving = {name for name, place in places.items() if place.role == LEFT_OUT}
    outside = {name: known[name] for name in leaving if name not in desk.draft.places}
    if unknown := [name for name, place in outside.items() if not place.role]:
        raise UsageError(f"{unknown[0]} is not of this study, so nothing needs to be left out")

    def change(text: str) -> str:
        return assign(assign(text, desk.folder, outside), desk.folder, places)

    desk.edit(change, _text(form, "version"))


async def keep_guesses(desk: Desk, form: FormData) -> None:
    """Write what names suggest into the study; a first study is the one ``coatproof new`` would write."""
    guessed = {row.name: row.place for row in desk.state().rows if row.guessed and row.place.role}

    def change(text: str) -> str:
        if not text and guessed:
            return starter_text(desk.seen(), desk.folder, desk.folder)
        return assign(text, desk.folder, guessed)

    desk.edit(change, _text(form, "version"))


async def say_measured(desk: Desk, form: FormData) -> None:
    """Write the answers about the measurement."""
    given: dict[str, list[str]] = {}
    for name, value in form.multi_items():
        given.setdefault(name, []).append(str(value))
    state = desk.state()
    desk.edit(lambda text: answer(text, state, given), _text(form, "version"))


async def start(desk: Desk, _: FormData) -> None:
    """Begin to judge."""
    await desk.start()


async def stop(desk: Desk, _: FormData) -> None:
    """Stop judging."""
    await desk.stop()


def _text(form: FormData, name: str) -> str:
    value = form.get(name, "")
    return value if isinstance(value, str) else ""


def _words(form: FormData) -> Mapping[str, str]:
    return {name: _text(form, name).strip() for name in ("role", "group", "pieces", "specimen", "reason")}


async def add_files(request: Request) -> Response:
    """Put dropped files into the folder, each whole or not at all."""
    desk = desk_of(request)
    limits = desk.settings
    refused: list[CoatproofError] = []
    try:
        form = await _limited_form(request, limits.total_mb * 1_000_000, limits.uploads)
        for item in form.getlist("file"):
            if isinstance(item, UploadFile) and item.filename:
                await _add(desk, item, refused)
        await form.close()
    except CoatproofError as error:
        refused.append(error)
    except OSError as error:
        refused.append(OutputError(f"the files cannot be taken in ({error.strerror}); nothing was kept"))
    desk.again.set()
    return _answered(request, desk, "; ".join(map(str, refused)), refused[0] if refused else None)


async def _add(desk: Desk, item: UploadFile, refused: list[CoatproofError]) -> None:
    most = desk.settings.upload_mb * 1_000_000
    try:
        await run_sync(place_upload, desk.folder, item.filename or "", item.file, most)
    except CoatproofError as error:
        refused.append(error)


async def close(request: Request) -> Response:
    """End the program."""
    request.app.state.end()
    return HTMLResponse(
        "<!DOCTYPE html><html lang=en><title>Closed</title><p>Closed. The study is in the folder.</p>"
    )


# -- spectra and bands ---------------------------------------------------------------------------------


async def curves(request: Request) -> Response:
    """Answer with the lines to draw in a window."""
    desk, asked = desk_of(request), request.query_params
    state = desk.state()
    stage = asked.get("stage", "raw")
    sheaves = raw_sheaves(state.rows)
    if stage != "raw" and stage in STAGES:
        held = [found.stages.get(stage, ()) for found in (state.findings, state.running) if found]
        sheaves = next((item for item in held if item), ())
    window = Window(
        _number(asked.get("low")),
        _number(asked.get("high")),
        width=int(min(max(_number(asked.get("width")) or 1000, 100), 4000)),
        height=int(min(max(_number(asked.get("height")) or 420, 100), 4000)),
        apart=asked.get("apart", "1") == "1",
        lines=desk.settings.lines,
    )
    return JSONResponse(drawing(sheaves, window, frozenset(asked.getlist("marked"))))


def _number(text: str | None) -> float | None:
    try:
        number = float(text or "")
    except ValueError:
        return None
    return number if np.isfinite(number) else None


async def near(request: Request) -> Response:
    """Answer with a band's row, and what the tables say near a place."""
    at = _number(request.query_params.get("at"))
    if at is None:
        return Response("give a wavenumber", 422)
    mark = _number(request.query_params.get("mark"))
    return HTMLResponse(near_html(desk_of(request).state(), at, None if mark is None else int(mark)))


async def assignments(request: Request) -> Response:
    """Answer with the assignments within reach of a place."""
    at = _number(request.query_params.get("at"))
    if at is None:
        return Response("give a wavenumber", 422)
    return Response(within_reach(desk_of(request).state(), at), media_type="text/plain; charset=utf-8")


# -- files ---------------------------------------------------------------------------------------------
