"""What a press is to do: the duty that `fea.jobs.sizing` starts from."""

from platestack.fea.jobs.duty.duty import Duty, read
