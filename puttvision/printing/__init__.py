"""Pages to print: the sheets and the field guide, as vector PDF. Functions give bytes."""
