"""What the press is: case file, parts, layout and mesh. Never imports `fea`."""
