"""One module for each resource of the API, with its calls as methods."""
