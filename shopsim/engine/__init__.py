"""What happens, once: a scenario made into tasks, its luck drawn, the shop run, and the record read."""
