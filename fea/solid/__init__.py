"""The stacks as elastic solids: loads, contact, solution, stress, error."""
