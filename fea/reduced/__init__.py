"""Instant answers for other plate thicknesses, with a bound on what they miss of a full solve.

`affine` splits the stiffness of a flat stack into parts that thicknesses only scale; `model` holds
a small basis of displacements and answers from it; `training` finds that basis; `coercivity`
supplies the constant of the bound; `stress` recovers stresses; `store` keeps models in files.
"""

from fea.reduced.affine import Parameters, Problem
from fea.reduced.model import Answer, ReducedStack
from fea.reduced.training import train

__all__ = ["Answer", "Parameters", "Problem", "ReducedStack", "train"]
