"""What people agree to and answer later: the consent, the overuse questions, whether a complaint came back."""
