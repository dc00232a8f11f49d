"""Colony models: pure functions on arrays with a row a hive. Strength, heat, food, damp, mites, population, points."""
