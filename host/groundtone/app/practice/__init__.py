"""Practice on an open mat: what follows frames, sounds, takes answers and records, without a screen of its own."""
