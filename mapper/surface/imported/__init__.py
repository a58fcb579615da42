"""Meshes from outside (scans, other programs) made into skins."""
