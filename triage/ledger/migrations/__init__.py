"""Steps of the record's schema as SQL files, one pair a step."""
