"""What a fitting takes in and works out: intake, looks, grades, pictures' angles, need, rules, stop signs, referral."""
