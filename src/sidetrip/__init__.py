"""Plans the trips that a live desk's audio makes out to outboard and back."""

__version__ = "0.1.0"

__all__ = ["__version__"]
