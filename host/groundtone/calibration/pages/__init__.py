"""What a person reads: certificate, coverage, drawings."""
