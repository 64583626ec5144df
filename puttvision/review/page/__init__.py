"""The page in the browser: a coach watches every putt, corrects calls and sees what the score becomes."""
