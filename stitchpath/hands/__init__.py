"""What everything takes her: pace, feet, turning the quilt, areas, and the tariff of a top."""
