"""What the press does: elasticity, hand calculations, results, pictures, command line."""
