"""What every tooth finds in its way, and what every lip has seen."""
