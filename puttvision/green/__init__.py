"""Where things are on the green: sheets, lens, camera pose, plane, hole and gate posts, each with covariance."""
