"""What the page asks for and what it gets. `fea.app.page.guard` stands before all of it."""

from __future__ import annotations

import json
import secrets
from collections.abc import Callable
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import FileResponse, HTMLResponse, JSONResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from platestack.fea.app import case_text
from platestack.fea.app.page import answers, forms, runs
from platestack.fea.app.page.guard import POLICY, Guard
from platestack.fea.app.page.instant import InstantService
from platestack.fea.app.page.jobs import Jobs
from platestack.geometry import case as case_file
from platestack.geometry import tables, units
from platestack.geometry.errors import CaseError, PlatestackError

STATIC = Path(__file__).parent / "static"
VIEWER = Path(__file__).parents[1] / "report" / "assets"


class Site:
    """The page of one working directory."""

    def __init__(self, folder: Path, jobs: Jobs, instant: InstantService, token: str) -> None:
        self.folder, self.jobs, self.instant, self.token = folder, jobs, instant, token
        self.results = folder / "results"

    def home(self, _: Request) -> Response:
        """The one HTML page; the token goes with it."""
        text = (STATIC / "page.html").read_text(encoding="utf-8")
        return HTMLResponse(text.replace("{token}", self.token))

    def form(self, _: Request) -> Response:
        """The form, the cases that can be opened, and the plates that are rolled (m)."""
        names = [str(file.relative_to(self.folder)) for file in runs.cases(self.folder)]
        stock = tables.stock_thicknesses()
        return JSONResponse(
            {"form": forms.form(), "cases": names, "stock": stock, "units": units.shown_units()}
        )

    def state(self, _: Request) -> Response:
        """Jobs and runs."""
        jobs = [job.shown() for job in self.jobs.all()]
        shown = {"jobs": jobs, "runs": runs.listing(self.results), "model": self.instant.shown()}
        return JSONResponse(shown)

    def file(self, request: Request) -> Response:
        """One file of a run, or all of them as ``all.zip``."""
        name, wanted = request.path_params["run"], request.path_params["file"]
        if wanted == "all.zip":
            run = runs.find(self.results, name)
            if run is not None:
                head = {"content-disposition": f'attachment; filename="{run.name}.zip"'}
                return Response(runs.packed(run), media_type="application/zip", headers=head)
        found = runs.find(self.results, name, wanted)
        if found is None:
            raise HTTPException(404, "no such file in the results")
        shown = found.suffix == ".png"
        kind = "image/png" if shown else "application/octet-stream"
        way = "inline" if shown else "attachment"
        return FileResponse(
            found, media_type=kind, filename=found.name, content_disposition_type=way
        )

    def scene(self, request: Request) -> Response:
        """The three-dimensional scene of a run."""
        from platestack.fea.app.page.scene import document

        run = runs.find(self.results, request.path_params["run"])
        if run is None:
            raise HTTPException(404, "no such run")
        nonce = secrets.token_urlsafe(16)
        try:
            text = document(run, nonce)
        except PlatestackError as error:
            raise HTTPException(422, str(error)) from None
        policy = POLICY.format(more=f"'nonce-{nonce}'")
        return HTMLResponse(text, headers={"content-security-policy": policy})

    def open(self, given: dict[str, Any]) -> Any:
        """A case: by its name in the listing, or by its text."""
        text, name = given.get("text"), given.get("case")
        if isinstance(name, str):
            file = next(
                (f for f in runs.cases(self.folder) if str(f.relative_to(self.folder)) == name),
                None,
            )
            if file is None:
                raise HTTPException(404, "no such case here")
            text = file.read_bytes().decode("utf-8-sig", "replace")
        if not isinstance(text, str):
            raise HTTPException(400, "allowed: the text of a case, or the name of one")
        return {"data": case_text.opened(text, str(name or "case")), "text": text}

    def start(self, given: dict[str, Any]) -> Any:
        """A first case from a few answers."""
        from platestack.fea.app import starter

        texts = {key: str(given.get(key, ""))[:80] for key in starter.ANSWERS}
        try:
            text, words = starter.case_text(texts, "my press")
        except CaseError as error:
            return {"problems": [vars(problem) for problem in error.problems]}
        return {"data": case_text.opened(text, "case"), "text": text, "words": words}

    def check(self, given: dict[str, Any]) -> Any:
        """Mistakes, drawing, prediction of the case, `thicknesses` (m) put in before."""
        data, moved = _data(given), given.get("thicknesses")
        if moved is None:
            return answers.check(data, _before(given), self.instant)
        if not isinstance(moved, dict):
            raise HTTPException(400, "allowed: thicknesses, a table")
        data = answers.taken_over(data, moved)
        return answers.check(data, _before(given), self.instant) | {"data": data}

    def run(self, given: dict[str, Any]) -> Any:
        """Queue a run of the case."""
        name = given.get("name")
        job = self.jobs.add(name.strip() if isinstance(name, str) else "", _sound(given))
        return {"job": job.shown()}

    def model(self, given: dict[str, Any]) -> Any:
        """Make reduced models of the case, in the place of any that there are."""
        self.instant.make(_sound(given))
        return {"model": self.instant.shown()}

    def forget(self, _: dict[str, Any]) -> Any:
        """Stop making reduced models."""
        self.instant.cancel()
        return {}

    def dossier(self, given: dict[str, Any]) -> Any:
        """Queue the dossier of a run."""
        name = given.get("name")
        run = runs.find(self.results, name) if isinstance(name, str) else None
        if run is None:
            raise HTTPException(404, "no such run")
        return {"job": self.jobs.add(run.name, None).shown()}

    def cancel(self, given: dict[str, Any]) -> Any:
        """Cancel a run."""
        number = given.get("number")
        if not isinstance(number, int) or isinstance(number, bool):
            raise HTTPException(400, "allowed: the number of a run")
        self.jobs.cancel(number)
        return {}


def _data(given: dict[str, Any]) -> dict[str, Any]:
    data = given.get("data")
    if not isinstance(data, dict):
        raise HTTPException(400, "allowed: data, a table")
    return data


def _before(given: dict[str, Any]) -> str:
    before = given.get("text", "")
    if not isinstance(before, str):
        raise HTTPException(400, "allowed: text, the case as it was")
    return before


def _sound(given: dict[str, Any]) -> str:
    """The text of a case that can be run. Raises `CaseError`."""
    made = case_text.written(_data(given), _before(given))
    case_file.parse(made)
    return made


def _asked(answer: Callable[[dict[str, Any]], Any]) -> Callable[[Request], Any]:
    """Make an endpoint of a function from the JSON asked to the JSON answered."""

    async def endpoint(request: Request) -> Response:
        try:
            given = json.loads(await request.body(), parse_constant=_no_number)
            json.dumps(given, ensure_ascii=False).encode()  # half characters are no text
        except (ValueError, RecursionError):
            raise HTTPException(400, "allowed: JSON") from None
        if not isinstance(given, dict):
            raise HTTPException(400, "allowed: a JSON object")
        try:
            result = await run_in_threadpool(answer, given)
            return JSONResponse(result)
        except CaseError as error:
            return JSONResponse(
                {"error": str(error), "problems": [vars(p) for p in error.problems]}, 422
            )
        except PlatestackError as error:
            return JSONResponse({"error": str(error)}, 422)
        except RecursionError:
            raise HTTPException(400, "allowed: tables that are not nested so deep") from None
        except Exception as error:
            raise _fault(error) from None

    return endpoint


def _given(answer: Callable[[Request], Response]) -> Callable[[Request], Response]:
    """Make an endpoint of a function that answers from files, which may go meanwhile."""

    def endpoint(request: Request) -> Response:
        try:
            return answer(request)
        except Exception as error:
            raise _fault(error) from None

    return endpoint


def _fault(error: Exception) -> HTTPException:
    """A sentence for the page, never a traceback."""
    if isinstance(error, HTTPException):
        return error
    if isinstance(error, FileNotFoundError):
        return HTTPException(404, "it is no longer there")
    words = f"unexpected fault in platestack: {type(error).__name__}: {error}"
    return HTTPException(500, ascii(words)[1:-1])


def _no_number(word: str) -> None:
    raise ValueError(f"{word} is not a number")


def _told(_: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    return JSONResponse({"error": error.detail}, error.status_code)


def application(
    folder: Path, port: int, jobs: Jobs, instant: InstantService, key: str
) -> Starlette:
    """Make the application that serves the cases and results under `folder` at `/key/`."""
    token = secrets.token_urlsafe(32)
    site = Site(folder, jobs, instant, token)
    asked = ("open", "start", "check", "run", "dossier", "cancel", "model", "forget")
    return Starlette(
        routes=[
            Route("/", _given(site.home)),
            Route("/form", _given(site.form)),
            Route("/state", _given(site.state)),
            Route("/runs/{run}/{file}", _given(site.file)),
            *(Route(f"/{name}", _asked(getattr(site, name)), methods=["POST"]) for name in asked),
            Route("/scene/{run}", _given(site.scene)),
            Mount("/viewer", StaticFiles(directory=VIEWER)),
            Mount("/static", StaticFiles(directory=STATIC)),
        ],
        middleware=[Middleware(Guard, port=port, token=token, key=key)],
        exception_handlers={HTTPException: _told},
    )
