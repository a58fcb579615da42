"""Meshes from outside."""
