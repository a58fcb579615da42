"""What the shop recorded over fourteen months, part by part, as plain rows."""
