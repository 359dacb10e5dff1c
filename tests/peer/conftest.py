"""Makes the peer's own modules importable, however pytest is started."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
