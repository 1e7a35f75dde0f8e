"""From tests to published scores: scoring models, protocols, components of uncertainty, cards."""
