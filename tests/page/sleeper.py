"""A child that does nothing but wait, as a run does that takes long."""

from __future__ import annotations

import time

from platestack.fea.app.page import child

if __name__ == "__main__":
    child.requests()
    child.say("step", "asleep · 1")
    time.sleep(600)
