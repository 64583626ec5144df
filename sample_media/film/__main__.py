"""``python -m sample_media.film``."""

import sys

from sample_media.film.make import main

sys.exit(main())
