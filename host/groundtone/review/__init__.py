"""Sessions read for people: recordings measured anew and reviewed, the library read, golfers renamed and given out."""
