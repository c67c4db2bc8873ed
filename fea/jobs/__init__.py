"""Commands behind the interfaces: one case, options, sweeps, sheets for the workshop."""
