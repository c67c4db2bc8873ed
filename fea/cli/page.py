"""Command `page`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from fea import console
from fea.cli.app import app


@app.command()
def page(
    port: Annotated[int, typer.Option(min=0, max=65535, help="Port; 0 for any free one.")] = 8420,
) -> None:
    """Serve a local web page for cases and results under this directory."""
    from fea import page as local

    local.serve(Path.cwd(), port, lambda words: console.out.print(words, markup=False))
