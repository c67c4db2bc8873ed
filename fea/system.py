from fea.solvers import System, Ties
