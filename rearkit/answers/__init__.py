"""One folder a keeper's question: a log in, an answer out."""
