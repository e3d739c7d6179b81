"""Reading building models: the one place where IFC entities are touched."""

from takeoff.reading.reader import read_model

__all__ = ["read_model"]
