"""How a plan is shown: terminal, page, JSON. Nothing is computed here."""
