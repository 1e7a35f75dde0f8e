"""The records behind the catalogue: brands, shoes, photos, imports, faults, shoes asked for."""
