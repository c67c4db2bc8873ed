"""Command `page`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from platestack.fea.app.cli.app import Stopped, app


@app.command()
def page(
    port: Annotated[int, typer.Option(min=0, max=65535, help="Port; 0 for any free one.")] = 8420,
) -> None:
    """Serve a local page for cases and results in this directory."""
    from platestack.fea.app import page as local
    from platestack.fea.app.console import terminal

    def tell(words: str) -> None:
        terminal.out.print(words, markup=False, soft_wrap=True)  # an address is one line

    try:
        local.serve(Path.cwd(), port, tell)
    except Stopped as stopped:
        tell("The page has ended.")
        raise typer.Exit(128 + stopped.number) from None
