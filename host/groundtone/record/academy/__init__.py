"""What only an academy needs: a database for several bays, recordings elsewhere, what waits for the network."""
