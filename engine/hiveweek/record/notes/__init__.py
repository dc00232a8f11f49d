"""Notes in a keeper's words: a table of phrases and a small grammar over it. No guessing: what has two readings is asked."""
