"""``python -m fea.cli``."""

from fea.cli import main

main()
