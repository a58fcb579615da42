"""Removed parts: what came off, where it belongs and where it is now."""
