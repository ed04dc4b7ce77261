"""All words of the page and the progress: one TOML file a language."""
