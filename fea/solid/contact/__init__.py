"""Plates that may part and slide: unilateral contact with Coulomb friction at interfaces.

`faces` are the matching faces of an interface, `law` says what passes through them, `connection`
what dowels and welds add, `balance` finds the balance of forces (`solve`), step by step from one
`point` to the next with the multigrid cycle of `linear`.
"""

from platestack.fea.solid.contact.balance import NEGLIGIBLE, STIFFNESS, Contact, resisted, solve
from platestack.fea.solid.contact.faces import Gap, Interfaces
from platestack.fea.solid.contact.law import Memory, State
