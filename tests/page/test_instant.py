"""Sliders answered by a reduced model: made by the child, within what beam theory expects, kept."""

from __future__ import annotations

import pytest

from platestack.fea.app import case_text as text
from platestack.fea.app.page import answers
from platestack.fea.app.page.instant import InstantService
from tests.page.test_jobs import until


@pytest.mark.slow
def test_a_reduced_model_answers_and_is_found_again(tmp_path, small_text):
    plates, mesh = '"80 mm"', '\n[mesh]\nsize = "40 mm"\n'
    case = small_text.replace('"2 x 50 mm"', plates) + mesh
    data, instant = text.opened(case, "small.toml"), InstantService(tmp_path)

    def bed(thickness, models):
        moved = answers.taken_over(data, {"bed": [thickness]})
        return answers.check(moved, case, models)["prediction"]["stacks"]["bed"]

    beams = {thickness: bed(thickness, instant) for thickness in (0.08, 0.07, 0.1)}
    instant.make(case)
    until(lambda: instant.shown()["state"] != "making", 600)
    assert instant.shown()["state"] == "ready", instant.shown()
    for models in (instant, InstantService(tmp_path)):  # the second one finds them in their files
        for thickness, beam in beams.items():
            told = bed(thickness, models)
            assert (beam["by"], told["by"]) == ("beam", "reduced model")
            assert beam["range"][0] < told["deflection"] < beam["range"][1]
            low, high = told["range"]
            assert 0 < high - low < 0.016 * told["deflection"]
            assert 0.8 < told["stress"] / beam["stress"] < 2.0  # a peak against a nominal stress
            assert bed(0.2, models)["by"] == "beam"  # beyond what they were made for
    instant.cancel()
