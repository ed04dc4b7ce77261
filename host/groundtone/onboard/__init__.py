"""What goes onto the mat, so that the board itself knows where the pressure is: tables, rules, and their binary."""
