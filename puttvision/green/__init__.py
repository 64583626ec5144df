"""Where things are on the green: sheets, lens, pose, plane, hole and gate posts, each with covariance."""
