"""Where the server begins: a folder of its own, so that nothing beside it is taken for a page."""
