"""What every room stands on: errors, threads, unfinished files, signals, the log, the machine."""
