"""Command `self-test`."""

from __future__ import annotations

import typer

from platestack.fea.app.cli.app import app


@app.command("self-test")
def self_test() -> None:
    """Try this installation, and its accuracy on published values."""
    from platestack.fea.app import selftest
    from platestack.fea.app.console import selftest as shown
    from platestack.fea.app.console import terminal

    failed = shown.print_trials(selftest.tried())
    failed += shown.print_comparisons(selftest.compared())
    terminal.out.print(f"\n[bold red]{failed} failed[/]" if failed else "\nall passed")
    raise typer.Exit(1 if failed else 0)
