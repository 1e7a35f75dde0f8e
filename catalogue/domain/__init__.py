"""What the catalogue computes: plain Python, without Django."""
