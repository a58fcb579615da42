"""One file for each schema, in order; a file is never changed once a shop was written with it."""
