"""Parametric shapes of airframe parts: exact evaluators and the lines their meshes must follow.

Lengths in mm, angles in degrees, in the part's own frame: x aft, y outboard, z up, for the right
side; the left side is the mirror image. Nothing recorded lives here.
"""
