"""What a job takes: areas stripped and left, litres, hours and waste, each with its formula."""
