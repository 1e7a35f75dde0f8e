"""Record keys of people and the noise on counts of them, from a secret of the practice."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from functools import cache
from typing import Any

import numpy as np
from django.conf import settings
from django.db.models import BigIntegerField, Expression, F, Func, Value
from django.utils.crypto import salted_hmac
from numpy.typing import NDArray

from fittings.domain.disclosure.cell_keys import cell_key, noisy_count


@cache
def _secret(key: str) -> bytes:
    return salted_hmac("fittings.cell_keys", "", secret=key, algorithm="sha512").digest()


def record_seed() -> int:
    """The seed that the database hashes people's numbers with: `hashint8extended(customer_id, seed)`."""
    return int.from_bytes(_secret(settings.SECRET_KEY)[:8], signed=True)


def record_key(customer: str) -> Expression:
    """The record key of a person, for a query; the argument is the way to the customer."""
    return Func(F(customer), Value(record_seed()), function="hashint8extended", output_field=BigIntegerField())


def noisy(count: int, record_keys: Any) -> int:
    """A count with noise, from the sum of the record keys of the people counted (None for nobody)."""
    return noisy_count(count, cell_key(int(record_keys or 0), count, _secret(settings.SECRET_KEY)))


def noisy_of(people: NDArray[np.bool_], record_keys: NDArray[np.uint64]) -> int:
    """How many of an array of people, with noise from their record keys."""
    return noisy(int(people.sum()), int(record_keys[people].sum()))


def record_keys(customers: Sequence[Any]) -> NDArray[np.uint64]:
    """Record keys of people outside a query."""
    return np.array([hash_of("person", customer) for customer in customers], dtype=np.int64).astype(np.uint64)


def hash_of(*values: Any) -> int:
    """64 bits from values and the secret, signed; the values can't be read from them."""
    key = _secret(settings.SECRET_KEY)
    return int.from_bytes(hashlib.blake2b(repr(values).encode(), key=key, digest_size=8).digest(), signed=True)
