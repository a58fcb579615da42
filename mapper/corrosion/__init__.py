"""What an inspector needs counted: findings on inspected area, depth, remaining thickness."""
