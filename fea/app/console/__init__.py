"""What a person sees in the terminal: progress while it works, a table at the end."""

from platestack.fea.app.console.options import print_options
from platestack.fea.app.console.summary import bar, check_table, print_ideal, print_summary
from platestack.fea.app.console.tables import print_tables
from platestack.fea.app.console.terminal import (
    drop_unwritten,
    errors,
    note,
    out,
    print_error,
    progress,
)

__all__ = [
    "bar",
    "check_table",
    "drop_unwritten",
    "errors",
    "note",
    "out",
    "print_error",
    "print_ideal",
    "print_options",
    "print_summary",
    "print_tables",
    "progress",
]
