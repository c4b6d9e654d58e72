"""Statistics with no trade words: arrays in, arrays out."""
