"""The trade: reads models, frames walls, finds cavities, plans, counts."""
