"""Who may do what in the catalogue. Reading it is public."""

from __future__ import annotations

from core.gate import navigation
from core.gate.access import PUBLIC, Role, register

register(
    {
        "catalogue.shoe:write": {Role.TECHNICIAN, Role.REVIEWER, Role.OFFICE},
        "catalogue.stock:write": {Role.MANAGER},
        "catalogue.stock:book": {Role.FITTER, Role.MANAGER},
        "catalogue.transfer:write": {Role.MANAGER},
        "catalogue.reservation:write": {Role.FITTER, Role.MANAGER},
        "catalogue.order:read": {Role.MANAGER},
        "catalogue.gap:read": {Role.MANAGER},
        "catalogue.wall_card:print": {Role.MANAGER},
        "catalogue.fault:answer": {Role.TECHNICIAN, Role.REVIEWER, Role.OFFICE},
        "catalogue.wish:ask": {Role.FITTER, Role.MANAGER},
        "catalogue.wish:decide": {Role.TECHNICIAN, Role.REVIEWER, Role.OFFICE},
    }
)

navigation.register(
    navigation.SITE,
    [
        navigation.Place("Catalogue", "catalogue:shoe-list", PUBLIC),
        navigation.Place("Where to start", "start:home", PUBLIC),
        navigation.Place("Replace a shoe", "catalogue:shoe-replace", PUBLIC),
        navigation.Place("Stores", "catalogue:store-list", PUBLIC),
        navigation.Place("How we measure", "catalogue:method", PUBLIC),
    ],
    order=0,
)

STOCK_PLACES = (
    ("Stock", "catalogue:stock-edit", "catalogue.stock:write"),
    ("Receive and sell", "catalogue:stock-book", "catalogue.stock:book"),
    ("Reservations", "catalogue:reservation-list", "catalogue.reservation:write"),
    ("Transfers", "catalogue:transfer-list", "catalogue.transfer:write"),
    ("Order list", "catalogue:order-list", "catalogue.order:read"),
    ("History", "catalogue:stock-history", "catalogue.stock:book"),
)
"""The pages of a store's stock among themselves: label, name of the address, action."""

navigation.register(
    "Wall",
    [
        navigation.Place("Stock", "catalogue:stock-home", "catalogue.stock:write"),
        navigation.Place("Receive and sell", "catalogue:book-home", "catalogue.stock:book"),
        navigation.Place("Reservations", "catalogue:reservation-home", "catalogue.reservation:write"),
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
        navigation.Place("Faulty pairs", "catalogue:fault-list", "catalogue.fault:answer"),
    ],
    order=25,
)
