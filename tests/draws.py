"""How many curves an analysis draws: none where a test looks at numbers alone, few where it looks at intervals too."""

from curves.sensitometry.core.choices import Choices

NO_DRAWS = Choices(draws=0)
FEW_DRAWS = Choices(draws=250, most_draws=250)
