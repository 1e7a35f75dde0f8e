"""Statistical disclosure control: what is hidden, left out or made noisy, so that no figure points at a person."""
