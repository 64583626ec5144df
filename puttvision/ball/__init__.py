"""Finding balls in the picture and following them on the plane."""
