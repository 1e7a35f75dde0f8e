"""Who may do what in the catalogue. Reading it is public."""

from __future__ import annotations

from core.gate import navigation
from core.gate.permissions import PUBLIC, Role, register

register(
    {
        "catalogue.shoe:write": {Role.TECHNICIAN, Role.REVIEWER, Role.OFFICE},
        "catalogue.stock:write": {Role.MANAGER},
        "catalogue.gap:read": {Role.MANAGER},
        "catalogue.wall_card:print": {Role.MANAGER},
        "catalogue.wish:ask": {Role.FITTER, Role.MANAGER},
        "catalogue.wish:decide": {Role.TECHNICIAN, Role.REVIEWER, Role.OFFICE},
    }
)

navigation.register(
    navigation.SITE,
    [
        navigation.Place("Catalogue", "catalogue:shoe-list", PUBLIC),
        navigation.Place("Replace", "catalogue:shoe-replace", PUBLIC),
        navigation.Place("Stores", "catalogue:store-list", PUBLIC),
        navigation.Place("How we measure", "catalogue:method", PUBLIC),
    ],
    order=0,
)

navigation.register(
    "Wall",
    [
        navigation.Place("Stock", "catalogue:stock-home", "catalogue.stock:write"),
        navigation.Place("Gaps", "catalogue:gap-home", "catalogue.gap:read"),
        navigation.Place("Wall cards", "catalogue:wall-card-home", "catalogue.wall_card:print"),
        navigation.Place("Ask for a shoe", "catalogue:wish-home", "catalogue.wish:ask"),
    ],
    order=30,
)

navigation.register(
    "Shoes",
    [
        navigation.Place("All shoes", "catalogue:record-list", "catalogue.shoe:write", also=("catalogue:record-new",)),
        navigation.Place("Brands", "catalogue:brand-list", "catalogue.shoe:write", also=("catalogue:brand-new",)),
        navigation.Place("From a file", "catalogue:shoe-import", "catalogue.shoe:write"),
        navigation.Place("Asked for", "catalogue:wish-list", "catalogue.wish:decide"),
    ],
    order=25,
)
