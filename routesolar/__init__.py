"""Expected solar energy of a vehicle's fixed roof panel along a drive."""
