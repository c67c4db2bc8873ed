"""Linear elasticity as matrices, and their solution."""
