"""Learning from logs, tried on many shops drawn in the believed world: how often honest logs are questioned, how often slips are found."""
