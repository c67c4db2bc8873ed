"""The local web page: edit a case, run it, slide thicknesses, compare runs, take the files.

Served on the loopback address only. What the browser asks for passes `fea.app.page.guard` first.
"""

from platestack.fea.app.page.serving import serve
