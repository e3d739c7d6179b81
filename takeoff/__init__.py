"""The trade: reads models, frames walls, finds cavities, plans, counts.

`take_off(path, job=None)` is the way in; its result is a `Takeoff`.
"""

from takeoff.pipeline import take_off
from takeoff.result import Takeoff

__all__ = ["Takeoff", "take_off"]
