"""What visitors see: the list, shoes, stores, comparisons, the screen, published scores and curves."""
