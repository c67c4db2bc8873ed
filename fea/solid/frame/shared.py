"""Rods and seats between two stacks that were each solved alone, where these tilt differently.

A stack alone takes the other for its mirror image. Where seats press at one edge that is not
enough: a rod is turned by both its ends, and its seats open by what it is turned. So each stack, as
stiff at its rods' stations as it was solved, is joined to the other there by whole rods; what both
were found to bear is where it starts from. Even motions are enough, as both are pressed on mirrors.
"""

from __future__ import annotations

import numpy as np

from platestack.fea.hand.support import NUT, STATIONS, UNKNOWNS
from platestack.fea.solid.frame.springs import Frame, SpringState
from platestack.fea.solid.loads import RodEnd, RodForces
from platestack.fea.solid.standing import Standing


def joined(one: Standing, two: Standing) -> list[tuple[RodForces, RodForces]] | None:
    """What each modelled rod bears at both stacks; None where their mirrors are not the same."""
    if one.symmetry != two.symmetry or [e.rod for e in one.ends] != [e.rod for e in two.ends]:
        return None
    frame, advance = _assembled(one, two)
    state = frame.solve(advance)
    return _forces(one, two, state)


def _assembled(one: Standing, two: Standing) -> tuple[Frame, np.ndarray]:
    """The frame of both stacks' stations and rods, and how far its springs are advanced."""
    half = UNKNOWNS * len(one.ends)
    stiffness, bias = np.zeros((2 * half, 2 * half)), np.zeros(2 * half)
    for number, stack in enumerate((one, two)):
        places = half * number + _stations(len(stack.ends))
        still, force = _still(stack)
        places, at = places[stack.read], stack.at[stack.read]
        own = np.linalg.inv(stack.flexibility) - still[np.ix_(stack.read, stack.read)]
        stiffness[np.ix_(places, places)] += own
        bias[places] -= own @ at + force[stack.read]
    kept: list[tuple[np.ndarray, float, float]] = []
    for rod, (first, second) in enumerate(zip(one.ends, two.ends, strict=True)):
        for rows, spring, rest, both_ways in _members(first, second):
            whole = np.zeros(2 * half)
            whole[UNKNOWNS * rod :][:UNKNOWNS] = rows[:UNKNOWNS]
            whole[half + UNKNOWNS * rod :][:UNKNOWNS] = rows[UNKNOWNS:]
            stood = np.concatenate([first.stood, [0.0] * 3, second.stood, [0.0] * 3])
            k, lead = first.share * spring, rest / spring - float(rows @ stood)
            if both_ways:
                stiffness += k * np.outer(whole, whole)
                bias += k * lead * whole
            else:
                kept.append((whole, k, lead))
    one_way, springs, advance = (np.array(column) for column in zip(*kept, strict=True))
    # Both together may rise: nothing holds them, and nothing lifts them.
    stiffness[half, half] += springs.max()
    bias[half] -= springs.max() * two.at[NUT]
    used = np.abs(stiffness).sum(axis=0) + np.abs(one_way).sum(axis=0) == 0
    stiffness[used, used] = 1.0  # what the model does not have stays where it is
    return Frame(stiffness, one_way, springs, bias), advance


def _stations(rods: int) -> np.ndarray:
    """Places of the stations (4r,) among the unknowns of a stack's rods, (7r,)."""
    return (UNKNOWNS * np.arange(rods)[:, None] + np.arange(STATIONS)).ravel()


def _still(stack: Standing) -> tuple[np.ndarray, np.ndarray]:
    """Stiffness (4r, 4r) of the rods at work, and forces (4r,) on them, of the model's part."""
    places = stack.at.reshape(-1, STATIONS)
    stiffness = np.zeros((len(stack.at),) * 2)
    force = np.zeros(len(stack.at))
    for number, (end, at) in enumerate(zip(stack.ends, places, strict=True)):
        own = slice(STATIONS * number, STATIONS * (number + 1))
        slope, rest = end.law
        stiffness[own, own] = end.share * slope
        force[own] = end.share * (rest + slope @ at)
    return stiffness, force


Member = tuple[np.ndarray, float, float, bool]


def _members(first: RodEnd, second: RodEnd) -> list[Member]:
    """Row (14,), stiffness and force at rest of each member of a rod, and whether it may also pull.

    Those across are one from stack to stack; nuts' springs come first.
    """
    found: list[Member] = []
    nothing = np.zeros(UNKNOWNS)
    one, two = first.support, second.support
    for number, across in enumerate(one.across):
        spring, both_ways = float(one.stiffness[number]), bool(one.ring[number] == 0)
        if across:
            rest = float(one.rest[number] + two.rest[number]) / 2
            row = np.concatenate([one.rows[number], two.rows[number]])
            found.append((row, spring, rest, both_ways))
            continue
        rest = float(one.rest[number])
        found.append((np.concatenate([one.rows[number], nothing]), spring, rest, both_ways))
        spring, rest = float(two.stiffness[number]), float(two.rest[number])
        found.append((np.concatenate([nothing, two.rows[number]]), spring, rest, both_ways))
    return found


def _forces(one: Standing, two: Standing, state: SpringState) -> list[tuple[RodForces, RodForces]]:
    """What each rod bears at both stacks."""
    half, found = UNKNOWNS * len(one.ends), []
    for rod, (first, second) in enumerate(zip(one.ends, two.ends, strict=True)):
        place = np.concatenate([
            state.displacement[start + UNKNOWNS * rod :][:UNKNOWNS] for start in (0, half)
        ]) - np.concatenate([first.stood, [0.0] * 3, second.stood, [0.0] * 3])  # fmt: skip
        members = _members(first, second)
        forces = [rest + spring * float(row @ place) for row, spring, rest, _ in members]
        ends = []
        for side, end in enumerate((first, second)):
            own = slice(UNKNOWNS * side, UNKNOWNS * (side + 1))
            nut = next(f for f, (row, *_) in zip(forces, members, strict=True) if row[own][NUT])
            struts = [
                force
                for force, (row, *_, both_ways) in zip(forces, members, strict=True)
                if not both_ways and row[own].any() and force > 0
            ]
            seat = sum(struts) if struts else None
            ends.append(RodForces(end.rod, nut, nut - (seat or 0.0), seat))
        found.append((ends[0], ends[1]))
    return found
