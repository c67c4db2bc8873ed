"""What a user asks for: one case, options, sweeps, and what the workshop needs."""
