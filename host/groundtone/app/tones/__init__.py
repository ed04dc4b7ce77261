"""What is heard: which player, what is remembered, and how long it takes from foot to ear."""
