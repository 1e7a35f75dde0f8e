"""The shoes for a person: which match the need, sizes, widths, insoles, changing over, when to look at a pair again."""
