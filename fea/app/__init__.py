"""How it is asked and shown: command line, page, terminal, dossier, self-test."""
