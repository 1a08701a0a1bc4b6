"""The pages of the app, one module each with a function ``show``; no types are defined here."""
