"""What a fitting takes in and works out: the person, the need, the shoes that match it, sizes and referrals."""
