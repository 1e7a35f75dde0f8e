"""A store's wall: stock, transfers, reservations, orders, wall cards."""
