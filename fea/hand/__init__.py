"""Hand calculations. They import only `geometry` and numpy, so they stay an independent check."""
