"""Files the page answers with: the study, the report, its own script and style, everything as one archive."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from anyio.to_thread import run_sync
from starlette.requests import Request
from starlette.responses import FileResponse, Response, StreamingResponse

from spectra.page.desk import Desk
from spectra.page.downloads import everything
from spectra.page.folder import list_results
from spectra.page.guard import REPORT_POLICY

STATIC = Path(__file__).parent / "static"


def desk_of(request: Request) -> Desk:
    """Return the desk of the application that a request came to."""
    desk: Desk = request.app.state.desk
    return desk


async def study(request: Request) -> Response:
    """Answer with the study file."""
    return _file(desk_of(request).study, "text/plain; charset=utf-8")


async def result(request: Request) -> Response:
    """Answer with one file of the report."""
    desk = desk_of(request)
    path = list_results(desk.folder, desk.study).get(request.path_params["name"])
    return _file(path)


async def static(request: Request) -> Response:
    """Answer with one of the page's own files."""
    known = {path.name: path for path in STATIC.iterdir()}
    return _file(known.get(request.path_params["name"]), kept=True)


async def library(_: Request) -> Response:
    """Answer with the script of the drawing library, from where it is installed."""
    from importlib.util import find_spec

    spec = find_spec("plotly")
    place = Path(str(spec.origin)).parent / "package_data" / "plotly.min.js" if spec else None
    return _file(place, kept=True)


def _file(path: Path | None, media_type: str | None = None, kept: bool = False) -> Response:
    if path is None or not path.is_file():
        return Response("no such file", 404)
    headers = {"cache-control": "private, max-age=3600"} if kept else {}
    if path.suffix in (".html", ".svg") and not kept:
        headers["content-security-policy"] = REPORT_POLICY
    return FileResponse(path, media_type=media_type, headers=headers)


async def zipped(request: Request) -> Response:
    """Answer with the study, its spectra and its report in one archive."""
    desk = desk_of(request)
    stream = await run_sync(everything, desk.folder, desk.study, tuple(desk.stamps))

    def pieces() -> Any:
        with stream:
            while chunk := stream.read(1 << 16):
                yield chunk

    name = "".join(c if c.isascii() and c.isalnum() else "_" for c in desk.folder.name) or "study"
    headers = {"content-disposition": f'attachment; filename="{name}.zip"'}
    return StreamingResponse(pieces(), media_type="application/zip", headers=headers)
