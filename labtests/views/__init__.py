"""The lab's pages."""
