"""Design check of one-off hydraulic presses built from stacks of thick plates and tie rods.

>>> import platestack
>>> case = platestack.load("cases/small/small.toml")
>>> thicker = case.with_("bed.plates[1].thickness", "60 mm")
>>> thicker["bed.plates[1].thickness"]
0.06

`load` and `build` make a case that is checked as on the command line, `PressCase.with_` changes
it, `solve` computes it into a `PressResult`. What is wrong raises a `PlatestackError`, bad input a
`CaseError`. The names of `__all__` stay from version to version; the modules of `platestack.fea`
and `platestack.geometry` need not.

In a checkout this folder joins `fea/` and `geometry/` under one name; in a wheel they lie in it.
"""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from platestack.fea.app.scripting import PressCase, build, load
    from platestack.fea.app.solving import PressResult, StackFields, solve
    from platestack.geometry.errors import CaseError, PlatestackError, UsageError

    __version__: str

__all__ = [
    "CaseError",
    "PlatestackError",
    "PressCase",
    "PressResult",
    "StackFields",
    "UsageError",
    "__version__",
    "build",
    "load",
    "solve",
]

_HOMES = {
    "platestack.fea.app.scripting": ("PressCase", "build", "load"),
    "platestack.fea.app.solving": ("PressResult", "StackFields", "solve"),
    "platestack.geometry.errors": ("CaseError", "PlatestackError", "UsageError"),
}


def __getattr__(name: str) -> Any:
    """Import a name of `__all__` when it is first asked for, so that importing takes no time."""
    import importlib

    if name == "__version__":
        return importlib.import_module("importlib.metadata").version("platestack")
    for home, names in _HOMES.items():
        if name in names:
            return getattr(importlib.import_module(home), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
