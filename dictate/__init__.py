"""From a spoken veterinary exam to a drafted, reviewable exam record, on the practice's own machine."""

__version__ = "0.1.0"
