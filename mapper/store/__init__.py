"""The store: a shop as a folder, every change in a chained history, backups that are checked."""
