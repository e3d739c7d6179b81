"""Walls of a takeoff as heat sees them: assemblies, U-values, cavities that cost heat, and sums by any grouping."""
