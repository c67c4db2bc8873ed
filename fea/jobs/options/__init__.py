"""Options side by side: the same press with other plates, another grade, layout or rods.

`variation` reads what may vary and changes the case; `comparing` chooses which options are solved
in full and predicts the others (`prediction`, or `models` of welded stacks); `evaluation` makes a
row of each, `by_hand` one without a mesh; `writing` leaves the files.
"""
