"""From a ball's path to a putt: segmentation, path model, measures and calls."""
