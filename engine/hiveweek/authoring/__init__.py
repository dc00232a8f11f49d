"""For rule authors: checks, cases, coverage, proofs, impact, the rulebook."""
