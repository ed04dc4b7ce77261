"""What the places are made of; each draws what it is given and computes nothing."""
