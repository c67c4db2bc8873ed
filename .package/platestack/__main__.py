"""``python -m platestack``."""

from platestack.fea.app.cli import main

main()
