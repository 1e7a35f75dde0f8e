"""The lab's API."""
