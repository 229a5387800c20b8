"""What options accept."""

__all__ = ["all"]

def all() -> list[tuple[str, list[str]]]:
    """Each choice by the name of its type in Python, with its values in the order of the documentation."""
