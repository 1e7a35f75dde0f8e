"""Names of people on pages where only their sign-in names were read."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from core.models import User


def names_of(usernames: Iterable[str]) -> dict[str, str]:
    """Return the name of each account by its sign-in name, in one query; no two of them are the same."""
    accounts = User.objects.filter(username__in=set(usernames)).annotate(has_namesake=User.namesakes())
    names = {one.username: one.name_in_full(has_namesake=getattr(one, "has_namesake", False)) for one in accounts}
    # Somebody without a name may sign in by another one's.
    often = Counter(names.values())
    return {username: f"{name} ({username})" if often[name] > 1 else name for username, name in names.items()}
