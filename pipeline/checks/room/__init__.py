"""Room to pass: the line with the most room between trunks, branches, banks and edges, and what is left beside it."""
