"""Published facts about coins and currencies, each figure with its source."""
