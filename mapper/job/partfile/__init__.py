"""The part file: how a person with a tape measure describes a part, and the shape made from it."""
