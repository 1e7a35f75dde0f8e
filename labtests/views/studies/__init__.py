"""Studies of the bench itself: check shoes, gauge studies, temperature, precision between rigs, wear."""
