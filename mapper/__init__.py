"""A map of every part of an old airframe, on its true shape."""

__version__ = "0.1.0"
