"""What is recorded on a part goes over to its corrected shape."""
