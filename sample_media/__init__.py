"""Sample clips with known truth, and the code that films them."""
