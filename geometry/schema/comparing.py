"""Table ``[compare]``: what `compare` varies when the command line does not say."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from platestack.geometry.schema.quantities import Name, Section


class Compare(Section):
    """Options of a comparison: every combination of the values of `vary`."""

    vary: dict[Name, Name] = {}
    """Such as ``"crosshead plate 2" = "60..90 mm step 5 mm"``; the names of `fea.jobs.options`."""
    verify: Annotated[int, Field(strict=True, ge=1, le=200)] = 6
    """Options solved in full besides the base; the others are predicted from these."""
