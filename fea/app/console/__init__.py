"""What a person sees in the terminal: progress while it works, a table at the end.

One module prints what one command has to show; a command imports it once it has something.
"""

from platestack.fea.app.console.streams import drop_unwritten, print_error
