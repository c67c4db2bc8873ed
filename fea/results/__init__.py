"""A run's directory, its record and its fields."""
