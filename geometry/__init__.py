"""Shapes and nothing else: axes, solids, depth slabs, connected voids. Knows no wall, no insulation, no IFC."""
