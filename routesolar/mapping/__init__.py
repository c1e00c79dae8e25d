"""From what a map shows to the road under a route and what stands beside it."""
