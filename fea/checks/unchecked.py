"""What is not checked: one list, for the run, the dossier, the proposal and the README."""

NOT_CHECKED = (
    "ports, seals and fittings",
    "welds other than the seams that the case gives",
    "toughness of nuts and of the cylinder's wall",
    "residual stress and flatness of plates as delivered",
    "wear and corrosion",
    "limit loads other than of beams, rods and the cylinder's wall",
    "foundation, guarding and controls",
)
"""Each with a test that the README says the same."""
