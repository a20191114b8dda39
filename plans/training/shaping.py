"""What can be done to a session without knowing who runs it: made definite, smaller, easier.

Law of what stands behind these names: from a tree to a tree; nothing comes out harder than it went in.
"""

from plans.training.easing import eased
from plans.training.levels import at_level, resolved
from plans.training.sizing import resized, scaled, written_in

__all__ = ["at_level", "eased", "resized", "resolved", "scaled", "written_in"]
