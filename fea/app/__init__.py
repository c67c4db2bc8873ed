"""User interfaces: command line, page, terminal, dossier, Python, self-test."""
