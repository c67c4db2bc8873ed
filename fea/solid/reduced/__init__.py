"""Instant answers for other plate thicknesses, with a bound on what they miss of a full solve.

    told = answer(model, [0.06, 0.08, 0.06])     # thickness of each plate in m, from below up
    told.deflection, told.bound, told.peaks      # m, m, Pa for each plate
    told.inside                                  # False: the model says nothing, bound infinite

`model` is a `ReducedModel`; `jobs.options.models` makes it for a stack of a case, keeps it in a
file and finds it again. An answer takes a millisecond or two and is not verified: its bound
is that of the difference to a full solve on the model's own mesh, and peaks have none.

`affine` splits the stiffness of a flat stack into parts that thicknesses only scale; `model` holds
a small basis of displacements and answers from it; `training` finds that basis; `coercivity`
supplies the constant of the bound; `stress` recovers stresses; `instant` puts them together;
`store` keeps models in files.

Plates that part or rub are no sum of fixed parts: loose and clamped stacks have no reduced model.
They are predicted from solved options (`jobs.options.prediction`), and only a full solve verifies.
"""

from platestack.fea.solid.reduced.affine import AffineProblem, NotAffineError, Parameters
from platestack.fea.solid.reduced.instant import ReducedModel, ReducedResult, answer
from platestack.fea.solid.reduced.model import Answer, ReducedStack
from platestack.fea.solid.reduced.training import train
