"""The bench run: which weights go where, what the mat shows meanwhile, what is said."""
