"""Programs that print figures: how many inputs were tried, what held."""
