"""Sentences of the program in another language: one TOML file a language, English templates as keys."""
